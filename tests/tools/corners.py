#!/usr/bin/env python3
"""How sharp corners stay: the distance from true corners to the film's edge, in source pixels.

    corners.py FILMQUILT [WAY]      one line of JSON a kind of picture

Polygons with corners of 30 to 150 degrees, turned anyhow, drawn by Pillow at 12 px a source pixel and
reduced to 256 px: anti-aliased, as a JPEG of quality 70, cut to hard pixels, with noise, blurred. The
film is Filmquilt's at 12 times; beside it stand Pillow's bicubic cut at half. Corners are those of the
polygons themselves: nothing here is taken from the program. "error" is the mean distance from a corner
to the nearest point of the edge, "blunt" the share of corners farther than one source pixel.
"""
import io
import json
import subprocess
import sys
import tempfile

import cv2
import numpy as np
from PIL import Image, ImageDraw

SIDE, TIMES = 256, 12


def polygons(rng):
    """Stars, triangles and bars, each in a cell of its own, as corners in source pixels."""
    out = []
    for row in range(4):
        for column in range(4):
            middle = np.array([column * 64 + 32, row * 64 + 32]) + rng.uniform(-3, 3, 2)
            turn, kind = rng.uniform(0, 2 * np.pi), (row * 4 + column) % 4
            if kind == 0:      # a star
                points, inner = int(rng.integers(4, 7)), rng.uniform(.45, .6)
                radii = np.tile([26, 26 * inner], points)
            elif kind == 1:    # a triangle
                radii = np.full(3, 25.0)
            elif kind == 2:    # a bar
                corner = np.array([[-25, -8], [25, -8], [25, 8], [-25, 8]])
                radii = None
            else:              # an arrowhead
                corner = np.array([[25, 0], [-20, 16], [-6, 0], [-20, -16]])
                radii = None
            if radii is not None:
                angle = np.arange(len(radii)) * 2 * np.pi / len(radii)
                corner = np.stack([np.cos(angle), np.sin(angle)], 1) * radii[:, None]
            spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
            out.append(corner @ spin.T + middle)
    return out


def kinds(truth, rng):
    """Name, ending and picture of every kind."""
    soft = 255 * (1 - truth.reshape(SIDE, TIMES, SIDE, TIMES).mean((1, 3)))
    grey = np.uint8(np.rint(soft))
    yield "anti-aliased", "png", grey
    yield "JPEG 70", "jpg", grey
    yield "hard one-bit", "png", np.where(grey < 128, 0, 255).astype(np.uint8)
    yield "noise 8", "png", np.uint8(np.clip(np.rint(soft + rng.normal(0, 8, soft.shape)), 0, 255))
    yield "blur 0.8", "png", np.uint8(np.rint(cv2.GaussianBlur(soft, (0, 0), .8)))


def distances(film, corners):
    edge = film ^ cv2.erode(film, np.ones((3, 3), np.uint8))
    away = cv2.distanceTransform(1 - edge, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    at = np.clip(np.rint(corners * TIMES - .5).astype(int), 0, SIDE * TIMES - 1)
    return away[at[:, 1], at[:, 0]] / TIMES


def main():
    program, way = sys.argv[1], (sys.argv[2:] or ["auto"])[0]
    rng = np.random.default_rng(7)
    found = {}
    for _ in range(3):
        shapes = polygons(rng)
        fine = Image.new("L", (SIDE * TIMES * 2,) * 2)
        for shape in shapes:
            ImageDraw.Draw(fine).polygon([tuple(p) for p in shape * TIMES * 2 - .5], fill=255)
        truth = (np.asarray(fine.resize((SIDE * TIMES,) * 2, Image.BOX)) > 127).astype(np.uint8)
        corners = np.concatenate(shapes)
        for name, ending, grey in kinds(truth, rng):
            with tempfile.TemporaryDirectory() as folder:
                source, film = f"{folder}/art.{ending}", f"{folder}/film.png"
                Image.fromarray(grey).save(source, **({"quality": 70} if ending == "jpg" else {}))
                subprocess.run([program, "onebit", source, "--width", "10.24in", "--ppi", "300",
                                "--edges", way, "-o", film], check=True, capture_output=True)
                ours = (np.asarray(Image.open(film).convert("L")) < 128).astype(np.uint8)
                common = np.asarray(Image.open(source).resize(ours.shape[::-1], Image.BICUBIC))
            for who, made in (("", ours), ("_bicubic", (common < 128).astype(np.uint8))):
                found.setdefault(name, {}).setdefault(who, []).append(distances(made, corners))
    for name, each in found.items():
        line = {"kind": name}
        for who, values in each.items():
            all_ = np.concatenate(values)
            line |= {"corners": len(all_), f"error{who}": round(float(all_.mean()), 3),
                     f"blunt{who}": round(float((all_ > 1).mean()), 3)}
        print(json.dumps(line))


if __name__ == "__main__":
    main()
