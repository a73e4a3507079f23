#!/usr/bin/env python3
"""Looks at the register targets of an export of several screens, as poppler draws them.

    targets.py DIR

Every target of plan.json must be drawn alike, pixel for pixel, on its page of every film:
crossed hairlines through its middle and a ring of their thickness. Exit 1 where one is not.
"""
import json
import pathlib
import subprocess
import sys

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None


def page(pdf, number, ppi):
    made = subprocess.run(["pdftoppm", "-r", ppi, "-f", str(number), "-l", str(number), "-mono", "-aa", "no",
                           "-aaVector", "no", str(pdf)], check=True, stdout=subprocess.PIPE).stdout
    head, size, bits = made.split(b"\n", 2)
    width, height = map(int, size.split())
    rows = np.frombuffer(bits, np.uint8).reshape(height, -1)
    return np.unpackbits(rows, axis=1)[:, :width].astype(bool)


def main():
    folder = pathlib.Path(sys.argv[1])
    plan = json.loads((folder / "plan.json").read_text())
    # Screens with sheets of their own have a plan each.
    plans = plan.get("plans", [plan])
    ppi = f"{plans[0]['film']['ppi']:g}"
    films = [(one, file) for one in plans for file in one["files"]]
    targets = plans[0].get("targets", [])
    if len(targets) < 2:
        sys.exit("fewer than two targets")
    for t in targets:
        seen = []
        for one, file in films:
            box = [t[k] for k in ("x_px", "y_px", "width_px", "height_px")]
            mine = [u for u in one["targets"] if [u[k] for k in ("x_px", "y_px", "width_px", "height_px")] == box]
            assert len(mine) == 1, (t, "is not on every film")
            s = next(s for s in one["sheets"] if s["name"] == mine[0]["sheet"])
            x, y, w, h = t["x_px"] - s["x_px"], t["y_px"] - s["y_px"], t["width_px"], t["height_px"]
            if s["turned"]:
                # A quarter clockwise: the page runs right as the film runs up.
                x, y, w, h = s["height_px"] - y - h, x, h, w
            x, y = x + s["image_x_px"], y + s["image_y_px"]
            seen.append(page(folder / file["name"], s["page"], ppi)[y:y + h, x:x + w])
        first = seen[0]
        assert first.shape == (t["height_px"], t["width_px"]), (t, first.shape)
        assert all((other == first).all() for other in seen), (t, "differs between films")
        middle = first.shape[0] // 2
        assert first[middle].all() and first[:, middle].all(), (t, "has no hairlines")
        far = np.hypot(*np.indices(first.shape) - middle)
        off = np.abs(far - 0.6 * middle)
        lines = np.zeros_like(first)
        reach = max(2, round(0.2 / 25.4 * float(ppi)))
        lines[middle - reach:middle + reach + 1] = lines[:, middle - reach:middle + reach + 1] = True
        assert first[~lines & (off < 0.5)].all(), (t, "has no ring")
        assert not first[~lines & (off > reach + 1)].any(), (t, "has more than ring and hairlines")
    print(len(targets), "targets, alike on", len(films), "films")


main()
