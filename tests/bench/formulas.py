"""The work of `preen-bench` done straightforwardly with NumPy and SciPy, and both run by turns.

Prints one line a work: median time of each, their ratio (how many times as long NumPy/SciPy takes), and how far the
results differ; a difference beyond the tolerance ends the run with an error, since only like work can be compared.
"""

import itertools
import json
import statistics
import subprocess
import sys
import time

import numpy as np
from scipy import optimize, stats

BINARY, TURNS = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 5


def rust(*words):
    return subprocess.run([BINARY, *words], check=True, capture_output=True, text=True).stdout


INPUTS = json.loads(rust("inputs"))


def linkage_table():
    """Closed form of the four-bar for all angles at once, by the law of cosines."""
    g = INPUTS["linkage"]
    servo = np.asarray(INPUTS["servo_deg"])
    arm = np.radians(g["arm_deg"])
    r, hx, hz, h, s = g["arm_mm"], g["hinge_x_mm"], g["hinge_z_mm"], g["horn_mm"], g["set_back_mm"]
    rod = np.hypot(hx + s - r * np.sin(arm), hz - h + r * np.cos(arm))
    horn = np.hypot(h, s)
    at = arm + np.radians(servo)
    px, pz = r * np.sin(at), -r * np.cos(at)
    far = np.hypot(px - hx, pz - hz)
    towards = np.arctan2(pz - hz, px - hx)
    inner = np.arccos((horn**2 + far**2 - rod**2) / (2 * horn * far))
    drawn = np.arctan2(-h, s)
    side = np.sign(np.sin(drawn - np.arctan2(-r * np.cos(arm) - hz, r * np.sin(arm) - hx)))
    line = towards + side * inner
    # Deflection down turns the horn's end forward: the drawn direction less the one there.
    deflection = np.degrees((drawn - line + np.pi) % (2 * np.pi) - np.pi)
    qx, qz = hx + horn * np.cos(line), hz + horn * np.sin(line)
    rx, rz = qx - px, qz - pz
    gain = (r * np.cos(at) * rx + r * np.sin(at) * rz) / (-horn * np.sin(line) * rx + horn * np.cos(line) * rz)
    return np.column_stack([deflection, gain]).ravel()


def cg_and_inertia():
    """The list as arrays is made once, outside the time."""
    mass = PARTS[:, 0].sum()
    x, y, z = (PARTS[:, 0] @ PARTS[:, 1:4]) / mass
    dx, dy, dz = PARTS[:, 1] - x, PARTS[:, 2] - y, PARTS[:, 3] - z
    m, own = PARTS[:, 0], PARTS[:, 0] * PARTS[:, 4] ** 2 / 12
    roll, pitch, yaw = (m * (dy**2 + dz**2) + own).sum(), (m * (dx**2 + dz**2)).sum(), (m * (dx**2 + dy**2) + own).sum()
    return [mass, x, y, z, roll * 1e-9, pitch * 1e-9, yaw * 1e-9]


def ballast_search():
    """Every way to fill every cell, all ways of all cells in one array."""
    b = INPUTS["ballast"]
    masses = np.array([kind["mass_g"] for kind in b["kinds"]])
    stock = np.array([kind["count"] for kind in b["kinds"]])
    places = np.array([cell["x_mm"] for cell in b["cells"]])
    fills = [
        np.array([way for way in itertools.product(range(cell["capacity"] + 1), repeat=len(masses))
                  if sum(way) <= cell["capacity"]])
        for cell in b["cells"]
    ]
    index = np.indices([len(fill) for fill in fills]).reshape(len(fills), -1)
    loads = np.stack([fill[rows] for fill, rows in zip(fills, index)], axis=1)
    loads = loads[(loads.sum(axis=1) <= stock).all(axis=1)]
    in_cell = loads @ masses
    mass = b["base"]["mass_g"] + in_cell.sum(axis=1)
    x = (b["base"]["mass_g"] * b["base"]["x_mm"] + in_cell @ places) / mass
    off = np.abs(x - b["target_x_mm"])
    good = (np.abs(mass - b["target_mass_g"]) <= b["mass_tolerance_g"]) & (off <= b["x_tolerance_mm"])
    slugs = loads.sum(axis=(1, 2))[good]
    most = loads.sum(axis=2).max(axis=1)[good]
    best = np.lexsort([np.abs(mass[good] - b["target_mass_g"]), off[good], most, slugs])[0]
    return [slugs[best], mass[good][best], x[good][best]]


def weibull_fit():
    """Maximum likelihood of ln eta and ln beta with its gradient, then errors from the inverse of the information."""
    ages, failed = LIVES

    def loss(p):
        u = np.log(ages) - p[0]
        w = np.exp(p[1]) * u
        e = np.exp(w)
        value = -(failed * (p[1] + w) - e).sum() + (failed * np.log(ages)).sum()
        slope_eta = -((-failed + e) * np.exp(p[1])).sum()
        slope_beta = -(failed * (1 + w) - e * w).sum()
        return value, np.array([slope_eta, slope_beta])

    fit = optimize.minimize(loss, [np.log(ages.mean()), 0.0], jac=True, method="BFGS", options={"gtol": 1e-9})
    u = np.log(ages) - fit.x[0]
    beta = np.exp(fit.x[1])
    w = beta * u
    e = np.exp(w)
    # Second derivatives of the loss by ln eta and ln beta.
    ee = (beta**2 * e).sum()
    eb = (beta * (failed - e * (1 + w))).sum()
    bb = (e * w * (1 + w) - failed * w).sum()
    covariance = np.linalg.inv([[ee, eb], [eb, bb]])
    return [np.exp(fit.x[0]), beta, *np.sqrt(np.diag(covariance))]


PARTS = np.array([[p["mass_g"], p["x_mm"], p["y_mm"], p["z_mm"], p["own_span_mm"]] for p in INPUTS["parts"]])
LIVES = (
    np.array([next(iter(life["end"].values()))["at"] for life in INPUTS["lives"]]),
    np.array([1.0 if "failed" in life["end"] else 0.0 for life in INPUTS["lives"]]),
)
WORKS = {
    "linkage_table": (linkage_table, 1e-9),
    "cg_and_inertia": (cg_and_inertia, 1e-12),
    "ballast_search": (ballast_search, 1e-12),
    "weibull_fit": (weibull_fit, 1e-5),
}


def timed(work):
    started = time.perf_counter()
    work()
    repetitions = max(1, int(0.05 / max(time.perf_counter() - started, 1e-9)))
    rounds = []
    for _ in range(5):
        started = time.perf_counter()
        for _ in range(repetitions):
            work()
        rounds.append((time.perf_counter() - started) / repetitions * 1e9)
    return statistics.median(rounds)


def main():
    ours, theirs, results = {}, {}, {}
    for _ in range(TURNS):
        for line in rust("measure", "20").splitlines():
            said = json.loads(line)
            ours.setdefault(said["work"], []).append(said["ns"])
            results[said["work"]] = np.asarray(said["result"])
        for name, (work, _) in WORKS.items():
            theirs.setdefault(name, []).append(timed(work))
    print("| work | Preen | NumPy/SciPy | ratio (lowest to highest of the turns) | results differ by |")
    print("|---|---|---|---|---|")
    wrong = []
    for name in INPUTS["works"]:
        work, tolerance = WORKS[name]
        there = np.asarray(work(), dtype=float)
        apart = float(np.max(np.abs(results[name] - there) / np.maximum(np.abs(there), 1.0)))
        ratios = sorted(b / a for a, b in zip(ours[name], theirs[name]))
        print(f"| {name} | {statistics.median(ours[name]) / 1e3:.2f} µs | {statistics.median(theirs[name]) / 1e3:.2f} µs "
              f"| {statistics.median(ratios):.1f} ({ratios[0]:.1f} to {ratios[-1]:.1f}) | {apart:.1e} |")
        if not apart <= tolerance:
            wrong.append(f"{name}: {apart:.1e} apart, {tolerance:.0e} allowed")
    # A second way to the Weibull fit, by the library's own maximum likelihood.
    ages, failed = LIVES
    data = stats.CensoredData.right_censored(ages, failed == 0)
    beta, _, eta = stats.weibull_min.fit(data, floc=0)
    if max(abs(eta / results["weibull_fit"][0] - 1), abs(beta / results["weibull_fit"][1] - 1)) > 1e-3:
        wrong.append(f"scipy.stats finds eta {eta}, beta {beta}")
    if wrong:
        sys.exit("The works do not give the same: " + "; ".join(wrong))


main()
