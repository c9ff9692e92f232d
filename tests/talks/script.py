"""Reads conversations written as text.

# ID | persona | country | zone
setup: zone Europe/Berlin
2026-04-10 19:05 text as typed (\\n for a line break)
= items dry_suit 1 zip_material=metal
= verdict no || asks
"""

import re
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo


def number(text):
    return [int(x) for x in text.split("|")]


def days(text, year):
    def full(d):
        return d if re.match(r"\d{4}", d) else f"{year}-{d}"

    if ".." in text:
        a, b = text.split("..")
        return {"from": full(a), "to": full(b)}
    return {"in": [full(d) for d in text.split("|")]}


def atom(text, year):
    words = text.split()
    t, rest = words[0], words[1:]
    plain = [w for w in rest if "=" not in w]
    keyed = dict(w.split("=", 1) for w in rest if "=" in w)
    if t == "items":
        name = keyed.pop("name", None)
        return {
            "t": t,
            "kind": plain[0].split("|"),
            "n": number(plain[1]) if len(plain) > 1 else None,
            "facts": keyed,
            "name": name,
        }
    if t in ("dives", "trips"):
        return {"t": t, "n": number(plain[0])}
    if t == "on":
        day = plain[0] if re.match(r"\d{4}", plain[0]) else f"{year}-{plain[0]}"
        out = {"t": t, "on": day, "n": number(plain[1]) if len(plain) > 1 else None}
        for k, v in keyed.items():
            if k in ("depth", "temp", "mins", "o2"):
                out[k] = float(v)
            elif k in ("with", "without"):
                out[k] = v.split(",")
            elif k == "water":
                out[k] = v
            elif k == "cond":
                out[k] = [g.split("|") for g in v.split(",")]
            else:
                raise ValueError(f"on: {k}")
        return out
    if t in ("care", "nocare"):
        out = {
            "t": "care",
            "kind": plain[0].split("|"),
            "task": plain[1].split("|"),
            "n": [0] if t == "nocare" else None,
        }
        for k, v in keyed.items():
            if k == "on":
                out[k] = days(v, year)
            elif k == "n":
                out[k] = number(v)
            elif k == "tech":
                out[k] = v == "1"
            elif k == "sub" or k == "test":
                out[k] = v.split("|")
            elif k in ("part", "name", "made"):
                out[k] = v
            else:
                raise ValueError(f"care: {k}")
        return out
    if t in ("same", "asks", "understood", "conflict", "files", "snooze", "notreminded"):
        return {"t": t}
    if t == "verdict":
        return {"t": t, "in": plain[0].split("|")}
    if t in ("use", "notuse"):
        return {"t": t, "of": plain[0].split("|")}
    if t == "caution":
        return {"t": t, "re": " ".join(plain) or None}
    if t == "says":
        return {"t": t, "re": text.split(None, 1)[1]}
    if t in ("oos", "inservice"):
        return {"t": t, "kind": plain[0].split("|")}
    if t in ("due", "notdue"):
        return {"t": t, "kind": plain[0].split("|"), "task": plain[1].split("|"), "part": keyed.get("part")}
    if t in ("reminded",):
        return {"t": t, "kind": plain[0].split("|"), "task": plain[1].split("|")}
    if t in ("mishap", "nomishap"):
        out = {
            "t": t,
            "kind": plain[0].split("|"),
            "happened": plain[1].split("|") if len(plain) > 1 else None,
        }
        if "on" in keyed:
            out["on"] = days(keyed["on"], year)
        return out
    if t == "manual":
        return {"t": t, "kind": plain[0].split("|"), **keyed}
    if t == "trip":
        full = [p if re.match(r"\d{4}", p) else f"{year}-{p}" for p in plain[:2]]
        return {"t": t, "from": full[0], "to": full[1], **keyed}
    if t == "wish":
        return {"t": t, "key": plain[0], "val": plain[1]}
    if t == "region":
        return {"t": t, "val": plain[0]}
    raise ValueError(f"no such expectation: {t}")


def read(path):
    convs, conv, turn = [], None, None
    for n, line in enumerate(Path(path).read_text(encoding="utf-8").splitlines(), 1):
        line = line.rstrip("\n")
        try:
            if not line.strip():
                continue
            if line.startswith("# "):
                cid, persona, country, zone = [x.strip() for x in line[2:].split("|")]
                conv = {
                    "id": cid,
                    "persona": persona,
                    "country": country,
                    "zone": zone,
                    "setup": [],
                    "turns": [],
                }
                convs.append(conv)
            elif line.startswith("setup:"):
                conv["setup"].append(line[6:].strip())
            elif line.lstrip().startswith("= "):
                say = line.strip()[2:].strip()
                turn["expect"].append(
                    {
                        "say": say,
                        "any": [
                            [atom(p.strip(), turn["at"][:4]) for p in alt.split(" && ")]
                            for alt in say.split(" || ")
                        ],
                    }
                )
            else:
                m = re.match(r"(\d{4}-\d\d-\d\d \d\d:\d\d) (.+)$", line)
                if not m:
                    raise ValueError("neither a turn nor an expectation")
                at = datetime.strptime(m[1], "%Y-%m-%d %H:%M").replace(tzinfo=ZoneInfo(conv["zone"]))
                if conv["turns"] and at.isoformat() <= conv["turns"][-1]["at"]:
                    raise ValueError("time goes back")
                turn = {
                    "at": at.isoformat(),
                    "from": "diver",
                    "text": m[2].replace("\\n", "\n"),
                    "expect": [],
                }
                conv["turns"].append(turn)
        except (ValueError, IndexError, AttributeError, TypeError) as e:
            raise ValueError(f"{path}:{n}: {e}: {line[:90]}") from e
    return convs
