#!/usr/bin/env python3
"""Holds a written report against programs that are not ours.

    python3 tests/peers/report.py FOLDER [--axe axe.min.js]

* `pdftotext` and `pdfinfo` (poppler) read report.pdf: every figure of results.json must stand in it, and it must have at most as many
  pages as are named here for the sample job.
* `jsonschema`, where Python has it, holds results.json against the program's own JSON Schema.
* With --axe, Chromium opens report.html with axe-core (a checker of accessibility), light and dark: no violation.

Ends with 1 where something does not hold.
"""

import argparse
import html
import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
MOST_PAGES, MOST_BEFORE_ANNEX = 16, 4
CHROMIUM = ["chromium", "--headless", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--disable-quic", "--no-first-run",
            "--disable-background-networking", "--virtual-time-budget=60000"]


def said(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def figures(results: dict) -> list[tuple[str, list[str]]]:
    """Where each figure is, and how it is shown."""
    found = []

    def add(where: str, value: float | None, places: int, unit: str) -> None:
        if value is not None:
            # results.json is rounded, too: a half may go either way.
            both = {f"{value + way * 1e-5:.{places}f}" for way in (-1, 0, 1)}
            found.append((where, sorted((shown if float(shown) != 0 else shown.lstrip("-")) + unit for shown in both)))

    for shot in results["shots"]:
        if shot["status"] != "measured":
            continue
        where = shot["photo"]
        add(where, shot["inclination"]["percent"], 2, " %")
        add(where, shot["drop_mm"], 1, " mm")
        add(where, shot["degrees"], 3, "°")
        add(where, shot.get("reach_m"), 1, " m")
        add(where, shot["cutoff"]["sharpness_g"], 2, "")
        add(where, shot["cutoff"]["linearity_deg"], 2, "°")
        add(where, abs(shot["cutoff"]["tilt_deg"]), 2, "°")
        elbow = shot["cutoff"].get("elbow")
        if elbow:
            add(where, elbow["kick_deg"], 1, "°")
    for step in results["travel"]:
        add(f"travel {step['lamp']} {step['from']} to {step['to']}", abs(step["percent"]), 2, "")
        add(f"travel {step['lamp']} {step['from']} to {step['to']}", step["u95_percent"], 2, "")
    return found


def paper(folder: pathlib.Path) -> list[str]:
    file = str(folder / "report.pdf")
    text = said("pdftotext", "-layout", file, "-").replace("\u00a0", " ").replace("−", "-")
    one_line = re.sub(r"\s+", " ", text)
    results = json.loads((folder / "results.json").read_text())
    wanted = figures(results)
    missing = [f"{where}: {shown} is not in the PDF" for where, shown in wanted if not any(one in one_line for one in shown)]
    pages = int(re.search(r"Pages:\s+(\d+)", said("pdfinfo", file)).group(1))
    # A form feed ends each page.
    before = next(n for n, page in enumerate(text.split("\f")) if "What the range adjuster does" in page and n > 0)
    print(f"report.pdf: {len(wanted)} figures, {len(missing)} missing; {pages} pages, {before} before the annex")
    if pages > MOST_PAGES or before > MOST_BEFORE_ANNEX:
        missing.append(f"{pages} pages, {before} before the annex: at most {MOST_PAGES} and {MOST_BEFORE_ANNEX}")
    return missing


def described(folder: pathlib.Path) -> list[str]:
    try:
        import jsonschema
    except ImportError:
        print("LEFT OUT: Python has no jsonschema here; results.json is not held against its schema")
        return []
    schema = json.loads((ROOT / "src/report/results/schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    broken = list(jsonschema.Draft202012Validator(schema).iter_errors(json.loads((folder / "results.json").read_text())))
    print(f"results.json: {len(broken)} places are not as its schema says")
    return [f"results.json: {list(error.absolute_path)}: {error.message[:200]}" for error in broken]


def accessible(folder: pathlib.Path, axe: pathlib.Path) -> list[str]:
    page = (folder / "report.html").read_text()
    page = re.sub(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", page)
    run = ("<script>" + axe.read_text() + "</script><script>axe.run().then(r => { const p = document.createElement('pre'); p.id = 'axe';"
           "p.textContent = JSON.stringify({passes: r.passes.length, violations: r.violations.map(v => [v.id, v.help,"
           " v.nodes.slice(0, 3).map(n => n.html.slice(0, 200))])}); document.body.append(p); });</script>")
    broken = []
    with tempfile.TemporaryDirectory() as made:
        copy = pathlib.Path(made) / "page.html"
        copy.write_text(page.replace("</body>", run + "</body>"))
        for look, options in (("light", []), ("dark", ["--blink-settings=preferredColorScheme=0"])):
            dom = said(*CHROMIUM, *options, f"--user-data-dir={made}/{look}", "--window-size=1200,900", "--dump-dom", copy.as_uri())
            of = re.search(r"<pre id=\"axe\">(.*?)</pre>", dom, re.S)
            if not of:
                broken.append(f"{look}: axe-core gave no answer")
                continue
            answer = json.loads(html.unescape(of.group(1)))
            print(f"report.html, {look}: {answer['passes']} rules of axe-core pass, {len(answer['violations'])} are violated")
            broken += [f"{look}: {violation}" for violation in answer["violations"]]
    return broken


def main() -> int:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=pathlib.Path)
    arguments.add_argument("--axe", type=pathlib.Path)
    given = arguments.parse_args()
    wrong = paper(given.folder) + described(given.folder)
    if given.axe:
        wrong += accessible(given.folder, given.axe)
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
