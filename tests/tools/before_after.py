#!/usr/bin/env python3
"""Makes docs/pictures/before-after.png: small pictures, enlarged and cut the common way and ours.

    before_after.py FILMQUILT

Each row is a part of one picture of tests/art/edge-subset, 1.2 in wide on a film at 300 ppi: what
the file holds, bicubic cut at half, and `filmquilt onebit` with nothing chosen. One pixel of the
picture is one dot of the film. Needs Pillow.
"""
import pathlib
import subprocess
import sys
import tempfile

from PIL import Image, ImageDraw

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Picture, damage, middle of the part in source pixels, the words beside it.
ROWS = [
    ("scorpion", "aa.png", (70, 90), "clean"),
    ("ferris-wheel", "j40.jpg", (100, 110), "JPEG, quality 40"),
    ("knot", "bit.png", (120, 90), "black and white only"),
    ("world-map", "n8.png", (90, 100), "noise"),
]
SIDE, GAP = 360, 12


def main():
    page = Image.new("L", (3 * (SIDE + GAP) + GAP, len(ROWS) * (SIDE + GAP + 22) + 28), 255)
    draw = ImageDraw.Draw(page)
    for i, words in enumerate(["what the file holds", "bicubic, cut at half", "filmquilt"]):
        draw.text((GAP + i * (SIDE + GAP), 8), words, 0)
    for j, (name, damage, (x, y), words) in enumerate(ROWS):
        path = ROOT / "tests/art/edge-subset" / name / damage
        source = Image.open(path).convert("L")
        size = (12 * source.width, 12 * source.height)
        with tempfile.TemporaryDirectory() as temp:
            film = f"{temp}/film.png"
            subprocess.run([sys.argv[1], "onebit", str(path), "--width", f"{size[0] / 300}in", "--ppi", "300",
                            "-o", film], check=True)
            ours = Image.open(film).convert("L")
        bicubic = source.resize(size, Image.Resampling.BICUBIC).point(lambda v: 255 if v >= 128 else 0)
        held = source.resize(size, Image.Resampling.NEAREST)
        left, top = 12 * x - SIDE // 2, 12 * y - SIDE // 2
        for i, picture in enumerate([held, bicubic, ours]):
            at = (GAP + i * (SIDE + GAP), 28 + j * (SIDE + GAP + 22))
            page.paste(picture.crop((left, top, left + SIDE, top + SIDE)), at)
            draw.rectangle([at[0] - 1, at[1] - 1, at[0] + SIDE, at[1] + SIDE], outline=128)
        draw.text((GAP, 28 + j * (SIDE + GAP + 22) + SIDE + 4), f"{name}: {words}", 0)
    out = ROOT / "docs/pictures/before-after.png"
    out.parent.mkdir(exist_ok=True)
    page.quantize(16).save(out, optimize=True)


main()
