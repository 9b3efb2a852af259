"""Times the page beside the command, in one run, and follows its memory: how much longer an upload takes than `beamfall measure` on the
same photo of 12 megapixels, over loopback, until the reading is there; and what the program holds after many uploads.

    pip install opencv-python-headless numpy    # Python 3.11 or later, on Linux
    cargo build --release && python3 tests/peers/page.py [--rounds 9] [--uploads 500] [--program FILE]

Photos are sample photos, resized; each sent one gets a comment of its own, since the page takes no photo twice. Seconds are the machine's;
the ratio is the result. Ends with 1 where an upload gave no reading.
"""

import argparse
import http.client
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
from pathlib import Path

import times

LIST = "check=positions&lamp=left&stage=before&positions=0%2C1%2C2%2C3"
SETTLED = 50  # Uploads after which what the program holds has settled.


def typed():
    """The sample's wall and car, as the page's form sends them."""
    bay = tomllib.loads((times.ROOT / "sample-photos/bay.toml").read_text())
    job = tomllib.loads(times.JOB.read_text())
    answers = {"bay.name": bay["name"], "bay.heights_from": bay["heights_from"], "bay.grade_percent": "0", "bay.grade_sd_percent": "0.02",
               "bay.size_mm": str(bay["marks"]["size_mm"]), "bay.position_sd_mm": str(bay["marks"]["position_sd_mm"]),
               "bay.sheets": str(len(bay["marks"]["sheet"])), "job.job": "Timed", "job.traffic": job["traffic"],
               "job.tolerance": job["tolerance"], "job.system": "none", "job.lamps": "both"}
    for n, sheet in enumerate(bay["marks"]["sheet"], 1):
        answers |= {f"sheet{n}.{key}": str(sheet[key]) for key in ("id", "x_mm", "y_mm")}
    for lamp in job["lamp"]:
        answers |= {f"{lamp['side']}.{key}": str(lamp[key]) for key in ("centre_height_mm", "centre_x_mm", "distance_mm")}
    return answers


def with_comment(jpeg, words):
    """The same picture in other bytes: a comment (COM) behind its first segment marker."""
    said = words.encode()
    return jpeg[:2] + b"\xff\xfe" + (2 + len(said)).to_bytes(2) + said + jpeg[2:]


class Page:
    """The program over a folder of its own."""

    def __init__(self, program, folder):
        self.child = subprocess.Popen([program, "serve", "--port", "0", folder], stdout=subprocess.PIPE, text=True)
        self.at = self.child.stdout.readline().split("http://")[1].split("/")[0].strip()

    def post(self, path, kind, body):
        link = http.client.HTTPConnection(self.at, timeout=120)
        link.request("POST", path, body, {"Origin": f"http://{self.at}", "Content-Type": kind})
        answer = link.getresponse()
        said = answer.read().decode()
        link.close()
        if answer.status != 201:
            sys.exit(f"{path}: {answer.status}: {said}")
        return said

    def json(self, path, order):
        return self.post(path, "application/json", json.dumps(order).encode())

    def held_mib(self):
        """Resident memory now and at the most, MiB."""
        lines = Path(f"/proc/{self.child.pid}/status").read_text().splitlines()
        return [int(line.split()[1]) / 1024 for key in ("VmRSS:", "VmHWM:") for line in lines if line.startswith(key)]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--uploads", type=int, default=500)
    parser.add_argument("--program", default=str(times.ROOT / "target/release/beamfall"))
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        large = times.resized(folder, 12)
        jpeg = large.read_bytes()
        (folder / "work").mkdir()
        page = Page(told.program, str(folder / "work"))
        try:
            job = json.loads(page.json("/new", typed()))["go"]
            own = folder / "work" / job.removeprefix("/job/").split("/")[0]
            sent = 0

            def upload(jpeg):
                """Seconds until the reading was there. The entry is taken out again, so that the job does not grow."""
                nonlocal sent
                sent += 1
                body = with_comment(jpeg, f"upload {sent}")
                began = time.perf_counter()
                said = page.post(f"{job}/photo?{LIST}&n=2", "image/jpeg", body)
                seconds = time.perf_counter() - began
                name = said.split("photos/")[1].split("<")[0].split(".jpg")[0] + ".jpg"
                if " ± " not in said:
                    sys.exit(f"no reading: {said}")
                page.json(f"{job}/undo", {"kind": "shot", "n": 0, "name": f"photos/{name}"})
                for left in own.glob("photos/*.jpg"):
                    left.unlink()
                return seconds

            pairs = []
            for _ in range(told.rounds + 1):
                began = time.perf_counter()
                subprocess.run(times.beamfall(told.program, large), check=True, capture_output=True)
                by_command = time.perf_counter() - began
                pairs.append((upload(jpeg), by_command))
            pairs = pairs[1:]  # The first warms both.
            by_page, by_command = (statistics.median(column) for column in zip(*pairs))
            ratios = sorted(page / command for page, command in pairs)
            print(f"12 megapixels, median of {told.rounds}: upload to reading {1e3 * by_page:.0f} ms, measure {1e3 * by_command:.0f} ms: "
                  f"{statistics.median(ratios):.2f} times (from {ratios[0]:.2f} to {ratios[-1]:.2f})")
            small = times.resized(folder, 3).read_bytes()
            held = {}
            for n in range(1, told.uploads + 1):
                upload(small)
                if n % SETTLED == 0:
                    held[n] = page.held_mib()
                    print(f"after {n:4} uploads of 3 megapixels: {held[n][0]:6.1f} MiB held, {held[n][1]:6.1f} at the most")
            if len(held) > 1:
                first, last = held[SETTLED], held[max(held)]
                print(f"from {SETTLED} to {max(held)} uploads: {last[0] - first[0]:+.1f} MiB held, {last[1] - first[1]:+.1f} at the most")
        finally:
            page.child.kill()


if __name__ == "__main__":
    main()
