#!/usr/bin/env python3
"""How long `filmquilt film` takes beside common tools doing the same job by hand, in one run.

    yardstick.py FILMQUILT [ART ...] [--rounds 5]

The common way: Pillow enlarges by Lanczos to 12600 x 10800, cuts at half, libtiff (through Pillow)
writes eight 12.5 x 18.5 in pages as Group 4, img2pdf binds them. Ours: `filmquilt film` at 42 in
and 300 ppi. Both run as processes of their own, turn about; the best of the rounds counts. Then
the same film at 300, 600 and 720 ppi. Needs Pillow and img2pdf; without ART, scikit-image for its
photograph.
"""
import argparse
import os
import pathlib
import subprocess
import sys
import tempfile
import time

COMMON = """
import sys, img2pdf
from PIL import Image
Image.MAX_IMAGE_PIXELS = None
art, folder = sys.argv[1:]
film = Image.open(art).convert("L").resize((12600, 10800), Image.Resampling.LANCZOS)
film = film.point(lambda v: 255 if v >= 128 else 0, "1")
pages = []
for row in range(2):
    for column in range(4):
        x, y = min(column * 3000, 12600 - 3750), min(row * 5250, 10800 - 5550)
        page = f"{folder}/{row}{column}.tif"
        film.crop((x, y, x + 3750, y + 5550)).save(page, compression="group4", dpi=(300, 300))
        pages.append(page)
with open(f"{folder}/film.pdf", "wb") as out:
    img2pdf.convert(pages, outputstream=out)
"""


def run(words):
    """Wall seconds, processor seconds and peak megabytes of a command."""
    start = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    if status:
        sys.exit(f"{words[0]} failed")
    return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def best(rounds):
    return tuple(min(column) for column in zip(*rounds))


def show(name, figures):
    wall, cpu, peak = figures
    print(f"  {name:28s} {wall:7.3f} s wall {cpu:7.3f} s of processor {peak:7.1f} MB peak", flush=True)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("filmquilt")
    ap.add_argument("art", nargs="*")
    ap.add_argument("--rounds", type=int, default=5)
    a = ap.parse_args()
    print(f"{os.cpu_count()} processor cores; the best of {a.rounds} rounds, turn about")
    with tempfile.TemporaryDirectory() as temp:
        art = a.art
        if not art:
            import skimage.data
            import skimage.io
            photo = f"{temp}/photograph.png"
            skimage.io.imsave(photo, skimage.data.camera(), check_contrast=False)
            art = [str(pathlib.Path(__file__).parents[2] / "assets/demo/lantern-moth.png"), photo]
        for picture in art:
            ours, common = [], []
            for _ in range(a.rounds):
                common.append(run([sys.executable, "-c", COMMON, picture, temp]))
                ours.append(run([a.filmquilt, "film", picture, "--quiet", "--width", "42in", "--ppi", "300",
                                 "--out", temp]))
            ours, common = best(ours), best(common)
            print(pathlib.Path(picture).name)
            show("Pillow, libtiff, img2pdf", common)
            show("filmquilt film", ours)
            print(f"  {common[0] / ours[0]:.1f} times faster on the wall, {common[1] / ours[1]:.1f} times less "
                  f"processor, {common[2] / ours[2]:.1f} times less memory")
            for ppi in (300, 600, 720):
                words = [a.filmquilt, "film", picture, "--quiet", "--width", "42in", "--ppi", str(ppi), "--out", temp]
                show(f"filmquilt film, {ppi} ppi", best([run(words) for _ in range(a.rounds)]))


main()
