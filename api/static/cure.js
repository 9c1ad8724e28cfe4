// The cure clock of a repair: what is left, by the service's time, counted down while the page is open.

const ANEW_MS = 15_000;

const told = Number(document.querySelector('meta[name=preen-now]')?.content);
const asked = performance.now();

function left(until) {
    const minutes = Math.ceil((until - told - (performance.now() - asked)) / 60_000);
    if (minutes <= 0) return null;
    return `${Math.floor(minutes / 60)} h ${minutes % 60} min left`;
}

function show() {
    for (const clock of document.querySelectorAll('time[data-until]')) {
        const text = left(Number(clock.dataset.until));
        // Whether it may be released is the service's to say: the page is asked for again.
        clock.textContent = text ?? 'cured: load the page again';
    }
}

if (Number.isFinite(told)) {
    show();
    setInterval(show, ANEW_MS);
}
