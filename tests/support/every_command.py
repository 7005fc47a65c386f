"""Every command of the program, and one call of each on a bench with the demo's trials."""

import functools
import json
import shlex
from pathlib import Path

from cause_case import wall_case
from PIL import Image
from ramp_case import short_ramp, short_trace
from shaken import shaken, table
from typer.main import get_command

from beadworth.cli import app
from beadworth.core import to_toml
from beadworth.demo import LONG_ZONE, STOCK
from beadworth.ramp import write_trace_csv
from beadworth.trial import Cable, CabledBalance, Samples, learn_format
from beadworth.workflow import store_balance

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
OWN = """name = "Own PLA"
density_g_cm3 = 1.24
min_temperature_c = 190
max_temperature_c = 240
"""
PART = """name = "Copper, long"
kind = "hot end"
price = 54.0
currency = "EUR"
mass_g = 71.0

[hot_end]
melt_zone_mm = 20.0
temperature_limit_c = 290.0
ptfe_in_melt_zone = false
"""
SERVED = {"bench serve", "demo"}
"""Commands that run until they are interrupted; pages have tests of their own."""
CABLED = {"balance ports", "balance listen", "balance learn", "balance read", "ramp record"}
"""Commands whose answer hangs on what is plugged in: ``test_balance_commands``."""


@functools.cache
def commands():
    """All commands by their words."""
    return _below(get_command(app), ())


def _below(command, path):
    if not hasattr(command, "commands"):
        return {" ".join(path): command}
    return {
        words: found
        for name, child in command.commands.items()
        for words, found in _below(child, (*path, name)).items()
    }


def files(folder):
    """Write the files that the calls name."""
    (folder / "stock.toml").write_text(to_toml(STOCK))
    (folder / "long.toml").write_text(to_toml(LONG_ZONE))
    (folder / "zone.toml").write_text("[hot_end]\nmelt_zone_mm = 20.0\nheater_w = 60.0\n")
    (folder / "own.toml").write_text(OWN)
    (folder / "copper.toml").write_text(PART)
    lines = ["G21", "G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000"]
    lines += [f"G1 X{20 + 60 * (n % 2)} E2.4 F3000" for n in range(60)]
    (folder / "print.gcode").write_text("\n".join(lines) + "\n")
    rows = ["rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g"]
    for rig, top in ((STOCK.name, 9.5), (LONG_ZONE.name, 14.0)):
        rows += [
            f'"{rig}","PLA, chalk white",220,{flow},600,{1.79 * jitter * min(1.0, top / flow):.4f}'
            for flow in (4, 6, 8, 10, 11, 12, 14, 16, 18)
            for jitter in (0.998, 1.0, 1.002)
        ]
    (folder / "readings.csv").write_text("\n".join(rows))
    alone = [row for row in rows if row.startswith(("rig,", f'"{LONG_ZONE.name}"'))]
    (folder / "readings2.csv").write_text("\n".join(alone))
    (folder / "log.csv").write_text((EXAMPLES / "stilt-heater-log.csv").read_text())
    Image.new("RGB", (30, 20), "red").save(folder / "fan.png")
    ramp = short_ramp(STOCK.name, "PLA")
    (folder / "ramp.toml").write_text(to_toml(ramp))
    (folder / "trace.csv").write_text(write_trace_csv(short_trace(ramp)))
    case = wall_case()
    (folder / "box.gcode").write_text(case.program)
    (folder / "wall.jpg").write_bytes(case.photos[0][0])
    t, values = shaken(62.0, 0.05, 3, seconds=4.0)
    (folder / "shaken.csv").write_bytes(table(t, x_m_s2=values))


def store_a_balance(bench):
    """Store the balance that the calls name."""
    lines = Samples(["S   0.00 g"] * 4, [], ["S  12.34 g"] * 4)
    cable = Cable(port="/dev/ttyUSB0")
    form = learn_format(lines)
    store_balance(bench, CabledBalance(name="Bench balance", cable=cable, lines=form))


def calls(trial, started):
    """The words of a call of each command, in an order in which each finds what it needs.

    Names in braces stand for what an earlier answer named: see :func:`remember`.
    """
    rig = STOCK.name
    return [
        "rig add stock.toml long.toml", "rig list", f"rig show '{rig}'",
        "rig fit stock.toml zone.toml --material PLA --temperature 220 --flow 12",
        "rig view stock.toml --out stack.svg",
        "rig new 'Own rig' --layout 'moving bed' --reach '220 220 250' --limit 260 --ptfe no",
        "part add copper.toml", "part list", "part show 'Copper, long'",
        "rig with 'Own rig' 'Copper, long' --name 'Own rig, copper'",
        "part copy 'Own rig' --name 'Old hot end'", "part remove 'Old hot end'",
        "rig new Spare --reach '200 200 200'", "rig remove Spare",
        "rig bringup program stock.toml moves --out moves.gcode",
        "rig bringup steps stock.toml",
        f"rig bringup moves '{rig}' 30=30.3 75=75.7 120=121.2 --axis x --steps-per-mm 80 --keep",
        "rig bringup feed stock.toml --marks 100=97.0 --marks 100=97.2 --mass 100=0.29",
        "rig bringup square stock.toml --sides 176=176 --diagonals 249.6=248.1",
        "rig bringup heater stock.toml log.csv --full-output 255",
        "rig bringup sheet stock.toml --out sheet.html",
        f"rig bringup results '{rig}'", f"rig bringup apply '{rig}'",
        "material add own.toml", "material list", "material show 'Own PLA'",
        "trial plan --question 'How far?' --baseline '" + rig + "' --material 'PLA, chalk white' "
        "--temperatures 215 --flows 8:10:2 --replicates 1 --filament-mm 300",
        "trial list", f"trial curve {trial}", f"trial sheet {started}",
        f"trial program {started} --out programs",
        f"trial weigh {started} {{coupon}} 1.78", "trial correct {reading} 1.77",
        "trial void {reading} --reason 'a hair on the pan'",
        "ramp program ramp.toml --rig stock.toml --out ramp.gcode",
        "ramp outlook ramp.toml --rig stock.toml",
        "ramp read trace.csv ramp.toml --rig stock.toml",
        "ramp read trace.csv ramp.toml --rig stock.toml --store --note leaned", "ramp list",
        "ramp show {weighing}", "ramp read trace.csv ramp.toml --rig stock.toml --store",
        "ramp void {weighing} --reason 'the cup touched'",
        "trial import readings.csv --question 'What was it?'", f"trial export {trial}",
        f"capacity fit {trial} --at 215", f"capacity compare {trial}", f"capacity speeds {trial}",
        f"capacity next {trial} --coupons 4",
        "melt predict stock.toml --material PLA --temperature 210,220",
        "melt flow-rate --mfr 6 --temperature 210",
        "capacity compare readings.csv --with readings2.csv",
        "print replay print.gcode --rig stock.toml --capacity readings.csv --material PLA",
        "print retime print.gcode --rig stock.toml --capacity readings.csv --out slower.gcode",
        "print compare print.gcode --baseline stock.toml --candidate long.toml "
        "--capacity readings.csv",
        "print against print.gcode slower.gcode --rig stock.toml --capacity readings.csv",
        "print survey print.gcode --out survey.parquet",
        "worth compare --baseline stock.toml --candidate long.toml --capacity readings.csv "
        "--print print.gcode=40 --parts 60 --currency EUR --fitting-hours 1 --printer-hour 2 "
        "--keep",
        "worth list", "worth show 'long.toml against stock.toml'", "worth profiles",
        f"wear add '{rig}' check 'play at the bed' --value 0.06 --unit mm --place x "
        "--on 2026-03-01",
        f"wear add '{rig}' check 'play at the bed' --value 0.07 --unit mm --place x "
        "--on 2026-03-02",
        f"wear add '{rig}' check 'play at the bed' --value 0.12 --unit mm --place x "
        "--on 2026-03-09",
        f"wear add '{rig}' check 'play at the bed' --value 0.13 --unit mm --place x "
        "--on 2026-03-10",
        f"wear add '{rig}' reminder 'play at the bed' --every-days 30 --on 2026-03-01",
        f"wear list '{rig}'", f"wear void '{rig}' {{entry}} --reason 'no longer wanted'",
        f"wear summary '{rig}'", f"wear compare '{rig}' 'play at the bed' --on 2026-03-05",
        f"journal add '{rig}' --stage fit --title 'It touched the fan' --on 2026-03-03 "
        "--photo 'fan.png=a bracket beside a fan'",
        f"journal list '{rig}'", f"journal show '{rig}' {{entry}}",
        "journal photo {digest} --out seen.jpg",
        f"journal void '{rig}' {{entry}} --reason 'of another rig'",
        f"package export {trial} --out package", "package import package",
        "package list", f"package compare {trial} {{package}}", f"package typical {trial}",
        f"dossier publish {trial} --out published --package",
        "witness kinds",
        f"witness program '{rig}' weighed-pair --ceiling 11 --out pair.gcode --map pair.svg "
        "--keep --temperature 215", "witness list", "witness map {witness} --out map.svg",
        "witness grade {witness} --grader AB --mass {first}=2.0 --mass {second}=1.95",
        "witness open {witness}", "witness read {witness}",
        f"witness program '{rig}' layer-time --out times.gcode --keep --looks 1",
        "witness grade {witness} --grader AB {grades}", "witness open {witness}",
        "witness read {witness}", "witness compare {witness} {witness}",
        f"cause walls '{rig}' box.gcode",
        f"cause photo '{rig}' box.gcode wall.jpg --wall 1 --corners '{wall_case().places(0)}' "
        "--looked dust=no --keep",
        "cause list", "cause show {number} --journal", "cause void {number} --reason 'wrong wall'",
        "cause modes shaken.csv",
        "bench backup copy.bench", "bench restore copy.bench --bench new.bench",
        "bench check", "bench phones", "bench unpair --all",
        "bench admit 'A. Measurer' --role measurer", "bench people", "bench withdraw 1",
        "balance list", "balance show 'Bench balance'",
        "balance check 'Bench balance' repeatability 1.78 1.80 1.79 --step 0.01 --on 2026-11-30",
        "balance void 'Bench balance' {check} --reason 'a draught'",
        "balance check 'Bench balance' linearity 0=0 1=1.00 2=2.01 5=5.01 --on 2026-11-30",
        "balance checks 'Bench balance'",
    ]  # fmt: skip


def remember(known, words, out):
    """Keep what later calls name, from the JSON of an answer."""
    answer = json.loads(out)
    if words[:2] == ["trial", "sheet"]:
        known["coupon"] = next(c["coupon"] for c in answer["coupons"] if c["net_g"] is None)
    if words[:2] in (["trial", "weigh"], ["trial", "correct"]):
        known["reading"] = answer["reading_id"]
    if words[1] == "add" and words[0] in ("wear", "journal"):
        known["entry"] = answer["id"]
    if words[:2] == ["journal", "show"]:
        known["entry"] = answer["id"]
    if words[:2] == ["journal", "add"]:
        known["digest"] = answer["entry"]["photos"][0]["sha256"]
    if words[:2] == ["witness", "program"]:
        known["witness"], (known["first"], known["second"]) = answer["number"], answer["codes"][:2]
        given = zip(answer["codes"], (0, 0, 0, 1, 1, 2, 3, 4), strict=False)
        known["grades"] = " ".join(f"{code}.first={grade}" for code, grade in given)
    if words[:2] == ["cause", "photo"]:
        known["number"] = answer["number"]
    if words[:2] == ["ramp", "read"] and "stored" in answer:
        known["weighing"] = answer["stored"]["number"]
    if words[:2] == ["balance", "check"]:
        known["check"] = answer["id"]
    if words[:2] == ["package", "import"]:
        known["package"] = answer["package"]


def split(line, known):
    """The words of a call, with what is known put in."""
    return shlex.split(line.format(**known))


def name_of(words):
    """The words of the command that a call begins with."""
    known = commands()
    found = [" ".join(words[:count]) for count in range(len(words), 0, -1)]
    return next(name for name in found if name in known)
