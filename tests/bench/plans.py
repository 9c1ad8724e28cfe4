"""Plans of `preen-bench plan` beside the exact answers of a general-purpose constraint solver (OR-tools CP-SAT).

Random work of so many tasks and people (from a seed, so always the same): half of the tasks wait for others, some cure,
some bind two people, a skill or a shared tool, some need daylight. Prints one line a project, with how far both bounds
are apart; a plan that begins more than 2 % of its lead earlier than the proven best, that breaks the project, or that
claims to be proven and is not, ends the run with an error. Arguments: program, tasks, people, projects, seconds of the
solver for each project.
"""

import json
import random
import subprocess
import sys
from datetime import datetime, timedelta, timezone

from ortools.sat.python import cp_model

BINARY = sys.argv[1]
TASKS, PEOPLE, PROJECTS, SECONDS = (int(word) for word in sys.argv[2:6])
UNTIL = datetime(2026, 5, 29, 20, tzinfo=timezone.utc)
DAY = 96
DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
SKILLS = ["structure", "radio"]


def project(seed):
    r = random.Random(seed)
    tasks = []
    for i in range(TASKS):
        # A task waits for others of its own model: four models a project.
        later = [j for j in range(i + 1, TASKS) if j % 4 == i % 4][:4]
        before = sorted(set(r.choice(later) for _ in range(r.choice([0, 1, 1, 1, 2])))) if later else []
        task = {"task": f"T{i}", "hours": r.choice([0.25, 0.5, 0.75, 1.0, 1.0, 1.5, 2.0]),
                "cure_h": r.choice([0, 0, 0, 0, 3, 12, 24]), "before": [f"T{j}" for j in before],
                "people": r.choice([1, 1, 1, 1, 1, 2])}
        if r.random() < 0.3:
            task["skills"] = [r.choice(SKILLS)]
        if r.random() < 0.15:
            task["tools"] = ["scales"]
        if r.random() < 0.1:
            task["until"] = "21:00"
        tasks.append(task)
    people = []
    for i in range(PEOPLE):
        evening = sorted(r.sample(DAYS[:5], r.choice([2, 3, 3, 4])), key=DAYS.index)
        hours = [{"days": evening, "from": r.choice(["18:30", "19:00"]), "until": r.choice(["21:30", "22:00"])},
                 {"days": r.choice([["sat"], ["sun"], ["sat", "sun"]]), "from": "09:00", "until": "14:00"}]
        skills = SKILLS if i == 0 else [skill for skill in SKILLS if r.random() < 0.4]
        people.append({"name": f"P{i}", "skills": skills, "weekly": hours})
    return {"tasks": tasks, "people": people, "tools": [{"tool": "scales"}],
            "until_at": UNTIL.isoformat().replace("+00:00", "Z")}


def minute(text):
    hours, minutes = text.split(":")
    return int(hours) * 60 + int(minutes)


def quarter(at):
    """Quarters before the end, negative."""
    return round((at - UNTIL).total_seconds() / 900)


def windows(person, reach=60):
    found = []
    for back in range(reach, -1, -1):
        day = (UNTIL - timedelta(days=back)).replace(hour=0)
        for hours in person["weekly"]:
            if DAYS[day.weekday()] in hours["days"]:
                start = quarter(day) + minute(hours["from"]) // 15
                stop = min(quarter(day) + minute(hours["until"]) // 15, 0)
                if start < stop:
                    found.append((start, stop))
    return found


def solve(work):
    """The latest begin and the proven bound, in quarters before the end."""
    model = cp_model.CpModel()
    free = [windows(person) for person in work["people"]]
    first = model.new_int_var(-60 * DAY, 0, "first")
    starts, lengths, cures = {}, {}, {}
    busy = [[] for _ in work["people"]]
    tools = []
    for task in work["tasks"]:
        name, length = task["task"], round(task["hours"] * 4)
        lengths[name], cures[name] = length, round(task["cure_h"] * 4)
        start = starts[name] = model.new_int_var(-60 * DAY, -length - cures[name], name)
        if "until" in task:
            allowed = [(quarter((UNTIL - timedelta(days=back)).replace(hour=0)),
                        quarter((UNTIL - timedelta(days=back)).replace(hour=21)) - length) for back in range(61)]
            model.add_linear_expression_in_domain(start, cp_model.Domain.from_intervals(allowed))
        does = []
        for index, person in enumerate(work["people"]):
            here = model.new_bool_var(f"{name} {index}")
            does.append(here)
            room = cp_model.Domain.from_intervals([(a, b - length) for a, b in free[index] if b - a >= length])
            model.add_linear_expression_in_domain(start, room).only_enforce_if(here)
            busy[index].append(model.new_optional_fixed_size_interval_var(start, length, here, f"{name} by {index}"))
        model.add(sum(does) == task["people"])
        for skill in task.get("skills", []):
            model.add_bool_or([here for here, person in zip(does, work["people"]) if skill in person["skills"]])
        if task.get("tools"):
            tools.append(model.new_fixed_size_interval_var(start, length, name))
        model.add(first <= start)
    for task in work["tasks"]:
        for after in task["before"]:
            model.add(starts[task["task"]] + lengths[task["task"]] + cures[task["task"]] <= starts[after])
    for intervals in busy + [tools]:
        model.add_no_overlap(intervals)
    model.maximize(first)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = SECONDS
    solver.parameters.num_workers = 2
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), solver.status_name(status)
    return round(solver.objective_value), round(solver.best_objective_bound), solver.wall_time


def faults(work, plan):
    """What is wrong with a plan, by the words of the project alone."""
    found = []
    at = {task["task"]: task for task in plan["tasks"]}
    read = lambda text: quarter(datetime.fromisoformat(text.replace("Z", "+00:00")))
    span = {name: (read(task["start_at"]), read(task["end_at"])) for name, task in at.items()}
    free = {person["name"]: windows(person, 120) for person in work["people"]}
    can = {person["name"]: person["skills"] for person in work["people"]}
    for task in work["tasks"]:
        name = task["task"]
        (start, end), who = span[name], at[name]["people"]
        ready = end + round(task["cure_h"] * 4)
        if end - start != task["hours"] * 4 or ready > 0 or any(span[after][0] < ready for after in task["before"]):
            found.append(f"{name}: length or order")
        if len(set(who)) != task["people"] or any(all(s not in can[p] for p in who) for s in task.get("skills", [])):
            found.append(f"{name}: people")
        if not all(any(a <= start and end <= b for a, b in free[person]) for person in who):
            found.append(f"{name}: hours")
        if "until" in task and (UNTIL.hour * 4 + end) % DAY > 21 * 4:
            found.append(f"{name}: daylight")
        for other in work["tasks"]:
            if other is not task and span[other["task"]][0] < end and start < span[other["task"]][1]:
                both = set(who) & set(at[other["task"]]["people"])
                if both or (task.get("tools") and other.get("tools")):
                    found.append(f"{name} and {other['task']} at once")
    return found


def main():
    print("| project | ms | begins | bound | solver begins | bound | s | gap to the proven best |")
    print("|---|---|---|---|---|---|---|---|")
    wrong, gaps = [], []
    for seed in range(PROJECTS):
        work = project(seed)
        said = json.loads(subprocess.run([BINARY, "plan"], input=json.dumps(work), check=True, capture_output=True,
                                         text=True).stdout)
        plan = said["answer"]
        read = lambda text: quarter(datetime.fromisoformat(text.replace("Z", "+00:00")))
        ours, our_bound = read(plan["start_at"]), read(plan["bound_at"])
        begins, bound, seconds = solve(work)
        # Where the solver proves nothing in its time, what it found is compared, too.
        proven = begins if begins == bound else None
        gap = (begins - ours) / -begins * 100
        gaps.append(gap)
        print(f"| {seed} | {said['ms']:.0f} | {ours} | {our_bound} | {begins} | {bound} | {seconds:.0f} | {gap:.2f} %"
              f"{'' if proven is not None else ' (not proven)'} |", flush=True)
        if gap > 2 or ours > bound or begins > our_bound or (plan["is_proven"] and begins > ours) or faults(work, plan):
            wrong.append(f"project {seed}: {ours} against {begins} to {bound}, {faults(work, plan)[:3]}")
    print(f"\nworst gap {max(gaps):.2f} %, mean {sum(gaps) / len(gaps):.2f} %, {sum(gap <= 0 for gap in gaps)} of "
          f"{len(gaps)} as good or better")
    if wrong:
        sys.exit("Not good enough: " + "; ".join(wrong))


main()
