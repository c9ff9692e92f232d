"""What is checked after each turn of a conversation: facts in the exported data, typed replies, and text where a fact stands nowhere else."""

import json
import re

HARM = ("recorded wrongly", "unsafe answer", "caution missing")


WORDS = {
    "buoyancy_device": "wing",
    "dry_suit": "dry suit",
    "hand_light": "torch",
    "canister_light": "canister light",
    "dive_computer": "dive computer",
    "camera_housing": "camera housing",
    "marker_buoy": "marker buoy",
    "dry_gloves": "dry gloves",
    "heated_vest": "heated vest",
    "nose_clip": "nose clip",
    "pressure_gauge": "pressure gauge",
    "suit_inflation": "suit inflation bottle",
    "video_light": "video light",
    "dry_box": "dry box",
}


LANDS = {
    "US": "the US",
    "CA": "Canada",
    "GB": "the UK",
    "EU": "France",
    "DE": "Germany",
    "CH": "Switzerland",
    "AU": "Australia",
    "NZ": "New Zealand",
    "ZA": "South Africa",
}


def put_right(turn, look):
    """What a diver who sees that kit is missing, or a setting not taken, says in the documented form."""
    wanted = {}
    for expect in turn["expect"]:
        atoms = expect["any"][0]
        if len(atoms) != 1 or atoms[0]["t"] != "items" or not atoms[0]["n"] or atoms[0].get("name"):
            continue
        a = atoms[0]
        kind = a["kind"][0]
        row = wanted.setdefault(kind, {"kinds": a["kind"], "n": 0, "facts": []})
        row["n"] = max(row["n"], min(a["n"]))
        if a["facts"]:
            row["facts"] += [a["facts"]] * min(a["n"])
    settings = []
    for expect in turn["expect"]:
        a = expect["any"][0][0]
        have = str((look.data.get("wishes") or {}).get(a.get("key")))
        if a["t"] == "wish" and have != a["val"] and a["key"] in ("units", "zone", "digest_at"):
            settings.append(
                {
                    "units": "units " + a["val"],
                    "zone": "zone " + a["val"],
                    "digest_at": "reminders at " + a["val"],
                }[a["key"]]
            )
        if a["t"] == "region" and (look.data.get("locker") or {}).get("region") != a["val"]:
            settings.append("I live in " + LANDS[a["val"]])
    said = []
    for kind, row in wanted.items():
        here = look.items(row["kinds"])
        missing = row["n"] - len(here)
        if missing <= 0:
            continue
        word = WORDS.get(kind, kind)
        left = [
            f
            for f in row["facts"]
            if not any(all(str(i["facts"].get(k)) == v for k, v in f.items()) for i in here)
        ]
        for n in range(missing):
            text = word
            for key, value in (left[n] if n < len(left) else {}).items():
                if key == "o2_fraction":
                    text += f" {float(value) * 100:.0f} %"
                if key == "volume_l":
                    text += f" {value} l"
                if key == "cylinder_material":
                    text += f", {value}"
                if key == "zip_material":
                    text += f", {value} zip"
                if key == "seal_material":
                    text += f", {value} seals"
            said.append("add " + text)
    if len(set(said)) == 1 and len(said) > 1 and "," not in said[0] and "%" not in said[0]:
        said = [f"add {len(said)} {said[0][4:]}s"]
    if said and "again" in turn and not any(look.items(row["kinds"]) for row in wanted.values()):
        said = turn["again"]
    return settings + said


class Look:
    """The state after one turn."""

    def __init__(self, data, due, kit, day):
        self.data, self.due, self.kit, self.day = data, due, kit, day

    def items(self, kinds, all_=False):
        return [
            i
            for i in (self.data or {}).get("items", [])
            if (all_ or not i["retired_on"]) and (kinds == ["*"] or i["kind"] in kinds)
        ]

    def numbers(self, kinds):
        return {i["number"] for i in self.items(kinds, True)}

    def core(self):
        d = self.data or {}
        drop = {"logged_at", "noted_at", "told", "number"}
        keep = {}
        for key in (
            "items",
            "dives",
            "care",
            "mishaps",
            "manual",
            "words",
            "snoozes",
            "trips",
            "loans",
            "borrowed",
        ):
            keep[key] = sorted(
                json.dumps({k: v for k, v in row.items() if k not in drop}, sort_keys=True)
                for row in d.get(key, [])
            )
        keep["region"] = (d.get("locker") or {}).get("region")
        keep["wishes"] = d.get("wishes")
        return keep


def lost_one(one):
    """Said that it did not understand. Some refusals with a reason carry the same intent: those are answers."""
    return (one.get("data") or {}).get("intent") == "misunderstood" and re.search(
        r"did(n't| not) (get|understand)|do(n't| not) (know what|understand)", one["text"].splitlines()[0]
    ) is not None


def near(a, b, tol):
    return a is not None and abs(float(a) - b) <= tol


def day_ok(value, spec):
    if value is None:
        return False
    if "from" in spec:
        return spec["from"] <= value <= spec["to"]
    return any(value.startswith(d) for d in spec["in"])


def part_ok(part, wish):
    if wish is None:
        return True
    if wish == "none":
        return part is None
    if re.search(r"\bzip\b", wish) and "dock" not in wish:
        wish += "|dock"
    return re.search(wish, part or "", re.IGNORECASE) is not None


def out_of_service(look, item):
    for line in look.kit.splitlines():
        if line.startswith("- " + item["name"]) and line[len(item["name"]) + 2 : len(item["name"]) + 4] in (
            " (",
            ": ",
        ):
            return "OUT OF OXYGEN" in line
    rows = [r for r in look.data["care"] if r["item"] == item["number"]]
    last = -1
    for n, r in enumerate(rows):
        if r["contaminates"]:
            last = n
        elif r["by_technician"] and r["task"] in ("service", "clean"):
            last = -1
    return last >= 0


NOTHING = Look(None, None, "", "")


def after(looks, k):
    return looks.get(k, NOTHING)


def earlier(looks, k):
    return looks.get(("fix", k - 1), looks.get(k - 1, NOTHING))


def why_not(dive: dict, a: dict, look: "Look") -> str | None:
    """Return what an entry of the log lacks of what is expected of one; None if it has all."""
    used = {i["kind"] for i in look.data["items"] if i["number"] in dive["items"]}
    tests = {
        "depth": lambda want: near(dive["max_depth_m"], want, 0.6),
        "temp": lambda want: near(dive["min_temp_c"], want, 0.6),
        "mins": lambda want: near(dive["duration_min"], want, 1),
        "o2": lambda want: near(dive["o2_fraction"], want, 0.006),
        "water": lambda want: dive["water"] == want,
        "cond": lambda want: all(set(dive["conditions"]) & set(group) for group in want),
        "with": lambda want: set(want) <= used,
        "without": lambda want: not set(want) & used,
    }
    return next((name for name, fits in tests.items() if name in a and not fits(a[name])), None)


def check(a, conv, k, replies, reminders, looks):
    """None if right, else why not."""
    look, before, said = after(looks, k), earlier(looks, k), replies[k]
    t, text = a["t"], "\n".join(o["text"] for o in said)
    datas = [o.get("data") or {} for o in said]
    intents = [d.get("intent") for d in datas]
    advice = next((d for d in datas if "verdict" in d), None)
    stateful = {
        "items",
        "dives",
        "on",
        "care",
        "same",
        "mishap",
        "nomishap",
        "manual",
        "trip",
        "trips",
        "wish",
        "region",
        "snooze",
        "oos",
        "inservice",
    }
    if t in stateful and look.data is None:
        return "no export came"
    if t == "items":
        rows = look.items(a["kind"])
        if a.get("name"):
            rows = [r for r in rows if re.search(a["name"], r["name"], re.IGNORECASE)]
        for key, want in (a.get("facts") or {}).items():

            def fits(r):
                have = r["facts"].get(key)
                if have is None:
                    return False
                try:
                    return abs(float(have) - float(want)) < 0.011
                except ValueError:
                    return str(have).startswith(want)

            rows = [r for r in rows if fits(r)]
        if a["n"] is not None and len(rows) not in a["n"]:
            return (
                f"{len(rows)} such; kit: "
                + ", ".join(f"{i['name']}[{i['kind']}]{i['facts'] or ''}" for i in look.items(["*"]))[:400]
            )
        return None
    if t == "dives":
        total = sum(d["dives"] for d in look.data["dives"])
        return None if a["n"] is None or total in a["n"] else f"{total} dives in all"
    if t == "on":
        rows = [d for d in look.data["dives"] if d["on"] == a["on"]]
        total = sum(d["dives"] for d in rows)
        shown = "; ".join(
            f"{d['dives']}x {d['max_depth_m']} m {d['water']} {d['min_temp_c']} C {d['duration_min']} min o2 {d['o2_fraction']} {d['conditions']} items {[i['name'] for i in look.data['items'] if i['number'] in d['items']]}"
            for d in rows
        ) or "none on that day; days: " + str(sorted({d["on"] for d in look.data["dives"]}))
        if a["n"] is not None and total not in a["n"]:
            return f"{total} dives on {a['on']}: {shown}"
        if a["n"] == [0]:
            return None
        whys = [why_not(d, a, look) for d in rows]
        return None if None in whys else f"{whys[0] if whys else 'nothing'}: {shown}"
    if t == "care":
        numbers = look.numbers(a["kind"])
        names = {i["number"]: i["name"] for i in look.data["items"]}
        rows = []
        for r in look.data["care"]:
            if r["item"] not in numbers or r["task"] not in a["task"]:
                continue
            if r["contaminates"] and "sub" not in a:
                continue
            if "on" in a and not day_ok(r["on"], a["on"]):
                continue
            if not part_ok(r["part"], a.get("part")):
                continue
            if "tech" in a and r["by_technician"] != a["tech"]:
                continue
            if "sub" in a and r["substance"] not in a["sub"]:
                continue
            if "test" in a and r["test"] not in a["test"]:
                continue
            if "made" in a and not str(r["made_on"]).startswith(a["made"]):
                continue
            if "name" in a and not re.search(a["name"], names[r["item"]], re.IGNORECASE):
                continue
            rows.append(r)
        have = len({r["item"] for r in rows})
        good = have >= 1 if a["n"] is None else have in a["n"]
        if good:
            return None
        new = [
            r
            for r in look.data["care"]
            if json.dumps({**r, "logged_at": 0})
            not in {json.dumps({**q, "logged_at": 0}) for q in (before.data or {}).get("care", [])}
        ]
        return (
            f"{have} items with it; new acts: "
            + "; ".join(
                f"{names.get(r['item'])}/{r['part']} {r['task']}{'/' + r['test'] if r['test'] else ''} {r['substance'] or ''} {r['on']}{' tech' if r['by_technician'] else ''}"
                for r in new
            )[:400]
        )
    if t == "same":
        if before.data is None:
            return "no export came before"
        a_, b_ = before.core(), look.core()
        diff = {
            key: [x for x in b_[key] if x not in a_[key]]
            + ["gone: " + x for x in a_[key] if x not in b_[key]]
            if isinstance(b_[key], list)
            else b_[key]
            for key in b_
            if a_[key] != b_[key]
        }
        return None if not diff else "recorded: " + json.dumps(diff, ensure_ascii=False)[:400]
    if t == "verdict":
        return (
            None
            if advice and advice["verdict"] in a["in"]
            else f"verdict {advice['verdict'] if advice else None}"
        )
    if t == "use":
        return (
            None
            if advice and set(advice.get("use", [])) & set(a["of"])
            else f"use {advice.get('use') if advice else None}"
        )
    if t == "notuse":
        bad = set(advice.get("use", [])) & set(a["of"]) if advice else set()
        if advice and advice["verdict"] == "yes" and not bad:
            pass
        return None if advice and not bad else (f"UNSAFE use {sorted(bad)}" if bad else "no advice")
    if t == "asks":
        if advice and advice["verdict"] == "clarify":
            return None
        return (
            None
            if any("?" in o["text"] and (o.get("data") or {}).get("intent") != "misunderstood" for o in said)
            else "no question"
        )
    if t == "understood":
        return "no reply" if not said else "not understood" if all(lost_one(o) for o in said) else None
    if t == "caution":
        lines = [c for d in datas for c in d.get("cautions", [])] + [
            l for l in text.splitlines() if l.startswith("! ")
        ]
        if a.get("re"):
            lines = [l for l in lines if re.search(a["re"], l)]
        return None if lines else "no caution"
    if t == "conflict":
        return None if any(d.get("conflict") for d in datas) else "no conflict"
    if t == "says":
        return None if re.search(a["re"], text) else "not said"
    if t == "files":
        return None if any(o.get("files") for o in said) else "no file"
    if t in ("oos", "inservice"):
        rows = look.items(a["kind"])
        if not rows:
            return "no such item"
        states = [out_of_service(look, r) for r in rows]
        good = any(states) if t == "oos" else not any(states)
        return None if good else "in service" if t == "oos" else "out of oxygen service"
    if t in ("due", "notdue"):
        if look.due is None:
            return "no list of what is due came"
        kind = {i["name"]: i["kind"] for i in look.items(["*"], True)}
        hits = [
            d
            for d in look.due
            if d["due_on"]
            and d["due_on"] <= look.day
            and d["task"] in a["task"]
            and (a["kind"] == ["*"] or kind.get(d["item"]) in a["kind"])
            and part_ok(d["part"], a.get("part"))
        ]
        good = bool(hits) == (t == "due")
        return (
            None
            if good
            else (
                "not due"
                if t == "due"
                else f"due: {hits[0]['item']}/{hits[0]['part']} {hits[0]['task']} {hits[0]['due_on']}"
            )
        )
    if t in ("mishap", "nomishap"):
        numbers = look.numbers(a["kind"])
        rows = [
            r
            for r in look.data["mishaps"]
            if r["item"] in numbers
            and (not a["happened"] or r["happened"] in a["happened"])
            and (not a.get("on") or day_ok(r["on"], a["on"]))
        ]
        good = bool(rows) == (t == "mishap")
        return None if good else f"mishaps: {[(r['happened'], r['on']) for r in look.data['mishaps']]}"
    if t == "manual":
        numbers = look.numbers(a["kind"])
        for r in look.data["manual"]:
            if r["item"] not in numbers:
                continue
            if "task" in a and r["task"] not in (a["task"], None):
                continue
            if "months" in a and r["every_months"] != int(a["months"]):
                continue
            if "dives" in a and r["every_dives"] != int(a["dives"]):
                continue
            if "hours" in a and r["every_hours"] != float(a["hours"]):
                continue
            if "sub" in a and a["sub"] not in (r["substances"] or []):
                continue
            if not part_ok(r["part"], a.get("part")) and r["part"] is not None:
                continue
            return None
        return (
            "notes: "
            + json.dumps(
                [
                    {
                        x: r[x]
                        for x in (
                            "item",
                            "part",
                            "substances",
                            "task",
                            "every_dives",
                            "every_months",
                            "every_hours",
                        )
                        if r[x] is not None
                    }
                    for r in look.data["manual"]
                ]
            )[:300]
        )
    if t == "trip":
        for r in look.data["trips"]:
            if (
                r["from_on"] == a["from"]
                and r["to_on"] == a["to"]
                and ("dives" not in a or r["dives"] == int(a["dives"]))
                and ("water" not in a or r["water"] == a["water"])
                and (
                    "temp" not in a
                    or near(r["min_temp_c"], float(a["temp"]), 0.6)
                    or near(r["max_temp_c"], float(a["temp"]), 0.6)
                )
            ):
                return None
        return "trips: " + json.dumps(look.data["trips"])[:300]
    if t == "trips":
        return None if len(look.data["trips"]) in a["n"] else f"{len(look.data['trips'])} trips"
    if t == "wish":
        have = str((look.data.get("wishes") or {}).get(a["key"]))
        return None if a["val"].startswith(have) else f"{a['key']} is {have}"
    if t == "region":
        have = (look.data.get("locker") or {}).get("region")
        return None if have == a["val"] else f"region {have}"
    if t == "snooze":
        return None if look.data["snoozes"] else "nothing snoozed"
    if t == "reminded":
        kind = {i["name"]: i["kind"] for i in look.items(["*"], True)}
        good = any(
            n["task"] in a["task"] and kind.get(n["item"]) in a["kind"]
            for o in reminders[k]
            for n in (o.get("data") or {}).get("notices", [])
        )
        return (
            None
            if good
            else f"reminders since the last turn: {[o['text'].splitlines()[0] for o in reminders[k]]}"
        )
    if t == "notreminded":
        return None if not reminders[k] else f"reminded: {reminders[k][0]['text'].splitlines()[0]}"
    return f"unknown expectation {t}"


def sort_of(expect, why, conv, k, replies, looks, missed, told_right):
    """What kind of failure: for the reader; the figures do not hang on it."""
    said = replies[k]
    datas = [o.get("data") or {} for o in said]
    kinds = {a["t"] for alt in expect["any"] for a in alt} - {"asks", "understood"}
    asked = any(
        (d.get("verdict") == "clarify") or ("?" in o["text"] and d.get("intent") != "misunderstood")
        for o, d in zip(said, datas)
    )
    lost = bool(said) and all(lost_one(o) for o in said)
    if "UNSAFE" in why:
        return "unsafe answer"
    old, new = earlier(looks, k), after(looks, k)
    changed = old.data is not None and new.data is not None and old.core() != new.core()
    if kinds == {"dives"} and missed and (not changed or told_right):
        return "follows an earlier miss"
    if kinds == {"caution"}:
        return "caution missing" if not lost else "not understood"
    if kinds <= {"verdict", "use", "notuse", "says", "conflict", "files", "caution"}:
        return (
            "not understood"
            if lost
            else "recorded wrongly"
            if changed
            else "asked back"
            if asked
            else "another answer"
        )
    if kinds <= {"due", "notdue", "reminded", "notreminded"}:
        return "wrong due state" if not lost else "not understood"
    if lost and not changed:
        return "not understood"
    if changed:
        return "asked, part recorded" if asked else "recorded wrongly"
    if asked:
        return "asked back"
    if not said:
        return "no reply"
    return "nothing recorded, no question"
