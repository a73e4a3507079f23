#!/usr/bin/env python3
"""Checks a plan.json against the region it must cover, from the planner's model alone.

    check_plan.py REGION.png PLAN.json --cell 0.25 --overlap 0.5 --printable 12.75x18.75
                  [--pieces many] [--fewest N]

REGION.png has one pixel a cell; a dark one (below half) needs film. Lengths are inches. Standard
library only. Exit status 0: the plan holds; 1: it does not, and why.

The model: for each cell c that needs film, Q(c) is the bounding box of all such cells inside the
window that reaches half the overlap around c. Some sheet must contain Q(c). Two sheets are linked
where they share at least the overlap both ways; one piece means that links connect all sheets.
"""

import argparse
import json
import struct
import sys
import zlib

CLOSE = 1e-5  # plan.json rounds to a ten-thousandth of a millimetre.


def read_png(path):
    """Rows of booleans: whether each pixel is dark. Not interlaced; 1 to 16 bits a sample."""
    data = open(path, "rb").read()
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        sys.exit("not a PNG file")
    at, packed, palette = 8, b"", b""
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        if kind == b"IHDR":
            width, height, depth, colour, _, _, interlaced = struct.unpack(">IIBBBBB", body)
        elif kind == b"PLTE":
            palette = body
        elif kind == b"IDAT":
            packed += body
        at += 12 + size
    if interlaced:
        sys.exit("interlaced PNG files are not read")
    samples = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[colour]
    raw, line = zlib.decompress(packed), (width * samples * depth + 7) // 8
    step = max(1, samples * depth // 8)
    before, rows = bytearray(line), []
    for y in range(height):
        start = y * (line + 1)
        how, row = raw[start], bytearray(raw[start + 1 : start + 1 + line])
        for i in range(line):
            left = row[i - step] if i >= step else 0
            up, corner = before[i], before[i - step] if i >= step else 0
            if how == 1:
                row[i] = (row[i] + left) & 255
            elif how == 2:
                row[i] = (row[i] + up) & 255
            elif how == 3:
                row[i] = (row[i] + (left + up) // 2) & 255
            elif how == 4:
                p = left + up - corner
                distances = (abs(p - left), abs(p - up), abs(p - corner))
                nearest = (left, up, corner)[distances.index(min(distances))]
                row[i] = (row[i] + nearest) & 255
        before = row
        values = []
        for i in range(width * samples):
            if depth == 16:
                values.append(row[2 * i])
            elif depth == 8:
                values.append(row[i])
            else:
                bit = i * depth
                v = row[bit // 8] >> (8 - depth - bit % 8) & ((1 << depth) - 1)
                values.append(v if colour == 3 else v * 255 // ((1 << depth) - 1))
        if colour == 3:
            rgb = [palette[3 * v : 3 * v + 3] for v in values]
            rows.append([sum(p) < 384 for p in rgb])
        else:
            pixels = [values[i * samples : (i + 1) * samples] for i in range(width)]
            if colour in (4, 6):
                rows.append([p[-1] >= 128 and sum(p[:-1]) < 128 * (samples - 1) for p in pixels])
            else:
                rows.append([sum(p) < 128 * samples for p in pixels])
    return rows


def windows(cells, cell, overlap):
    """Q(c) of each cell that needs film, in inches: left, top, right, bottom."""
    height, width = len(cells), len(cells[0])
    reach = int(-(-(overlap / 2 / cell - 1e-9) // 1))
    for y in range(height):
        for x in range(width):
            if not cells[y][x]:
                continue
            seen = [
                (u, v)
                for v in range(max(0, y - reach), min(height, y + reach + 1))
                for u in range(max(0, x - reach), min(width, x + reach + 1))
                if cells[v][u]
            ]
            us, vs = [u for u, _ in seen], [v for _, v in seen]
            yield min(us) * cell, min(vs) * cell, (max(us) + 1) * cell, (max(vs) + 1) * cell


def faults(cells, plan, args):
    """All that is wrong with the plan, in words."""
    short, long = sorted(float(v) for v in args.printable.split("x"))
    sheets = []
    for s in plan["sheets"]:
        x, y, w, h = (s[k] / 25.4 for k in ("x_mm", "y_mm", "width_mm", "height_mm"))
        sheets.append((s["name"], x, y, x + w, y + h))
        if min(w, h) > short + CLOSE or max(w, h) > long + CLOSE:
            yield f"{s['name']} is larger than its printable area: {w:.4f} x {h:.4f} in"
    if len({name for name, *_ in sheets}) < len(sheets):
        yield "a name is given twice"
    bare, first = 0, None
    for left, top, right, bottom in windows(cells, args.cell, args.overlap):
        if not any(
            x0 <= left + CLOSE and y0 <= top + CLOSE and x1 >= right - CLOSE and y1 >= bottom - CLOSE
            for _, x0, y0, x1, y1 in sheets
        ):
            bare, first = bare + 1, first or (left, top)
    if bare:
        yield f"{bare} cells have no sheet that holds them with their surround, the first at {first}"
    if args.pieces == "one" and sheets:
        joined, queue = {0}, [0]
        while queue:
            _, a0, b0, a1, b1 = sheets[queue.pop()]
            for j, (_, c0, d0, c1, d1) in enumerate(sheets):
                across, down = min(a1, c1) - max(a0, c0), min(b1, d1) - max(b0, d0)
                if j not in joined and min(across, down) >= args.overlap - CLOSE:
                    joined.add(j)
                    queue.append(j)
        if len(joined) < len(sheets):
            yield "the film is in more than one piece"
    if plan["lower_bound"] > len(sheets):
        yield f"the lower bound {plan['lower_bound']} is above the {len(sheets)} sheets"
    if plan["fewest_proved"] and plan["lower_bound"] != len(sheets):
        yield "the fewest are said to be proved, with a bound that says otherwise"
    if args.fewest is not None:
        if len(sheets) < args.fewest:
            yield f"{len(sheets)} sheets are fewer than the known fewest, {args.fewest}"
        if plan["fewest_proved"] and len(sheets) > args.fewest:
            yield f"{len(sheets)} sheets are said to be the fewest, but {args.fewest} do"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("region")
    parser.add_argument("plan")
    parser.add_argument("--cell", type=float, default=0.25)
    parser.add_argument("--overlap", type=float, default=0.5)
    parser.add_argument("--printable", default="12.75x18.75")
    parser.add_argument("--pieces", choices=["one", "many"], default="one")
    parser.add_argument("--fewest", type=int)
    args = parser.parse_args()
    plan = json.load(open(args.plan))
    wrong = list(faults(read_png(args.region), plan, args))
    for line in wrong:
        print(line)
    if not wrong:
        print(f"{len(plan['sheets'])} sheets: the plan holds")
    sys.exit(1 if wrong else 0)


main()
