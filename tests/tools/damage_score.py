#!/usr/bin/env python3
"""How films fare with damage of many kinds, against bicubic cut at Otsu's level.

    damage_score.py FILMQUILT SET

SET holds folders with a truth.png each, such as tests/art/edge-subset. Every truth is reduced
twelve times and damaged in one way after another with a fixed seed; `filmquilt onebit` is told
nothing. Prints a line of JSON a kind: the mean gain and the least of any picture. Then cuts
photographs, which are to be left as they are: the film is that of `--edges plain`. Needs Pillow,
numpy, opencv, scikit-image.
"""
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
import skimage.data
from PIL import Image
from scipy.ndimage import gaussian_filter
from skimage.filters import threshold_otsu

from edge_score import ink, perimeter

SCALE = 12


def reduced(truth, how=Image.Resampling.BOX):
    size = (truth.shape[1] // SCALE, truth.shape[0] // SCALE)
    return Image.fromarray(255 - 255 * truth).resize(size, how)


def jpeg(picture, quality, **kind):
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=quality, **kind)
    return Image.open(file).convert(picture.mode)


def array(picture):
    return np.asarray(picture).astype(float)


def image(values):
    return Image.fromarray(np.clip(np.rint(values), 0, 255).astype(np.uint8))


def noisy(picture, by, seed):
    return image(array(picture) + np.random.default_rng(seed).normal(0, by, array(picture).shape))


def blurred(picture, by):
    return image(gaussian_filter(array(picture), by))


def linear(truth):
    light = array(reduced(truth)) / 255
    return image(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))


def twice(truth):
    once = jpeg(reduced(truth), 75)
    wide = Image.new("L", (once.width + 3, once.height + 5), 255)
    wide.paste(once, (3, 5))
    return jpeg(wide, 60).crop((3, 5, 3 + once.width, 5 + once.height))


def coloured(truth):
    share = 1 - array(reduced(truth)) / 255
    paper, paint = np.array([250, 244, 230.0]), np.array([30, 40, 110.0])
    return image(paper + share[..., None] * (paint - paper))


def uneven(truth, seed):
    share = 1 - array(reduced(truth)) / 255
    y, x = np.mgrid[0 : share.shape[0], 0 : share.shape[1]] / max(share.shape)
    paper = 235 - 110 * x - 40 * y
    return noisy(image(paper * (1 - 0.85 * share)), 5, seed)


def six(truth):
    return image(np.rint(array(reduced(truth)) / 51) * 51)


def larger(truth):
    small = reduced(truth)
    return small.resize((small.width * 3 // 2, small.height * 3 // 2), Image.Resampling.BICUBIC)


KINDS = {
    "Lanczos": lambda t: reduced(t, Image.Resampling.LANCZOS),
    "bilinear": lambda t: reduced(t, Image.Resampling.BILINEAR),
    "linear light": linear,
    "JPEG twice, shifted": twice,
    "blur and JPEG 50": lambda t: jpeg(blurred(reduced(t), 1.0), 50),
    "noise and JPEG 65": lambda t: jpeg(noisy(reduced(t), 8, 5), 65),
    "colour JPEG 60, 4:2:0": lambda t: jpeg(coloured(t), 60, subsampling=2),
    "uneven noisy scan": lambda t: uneven(t, 5),
    "enlarged before by 1.5": larger,
    "six greys": six,
}


def main():
    filmquilt, folder = sys.argv[1], pathlib.Path(sys.argv[2])
    truths = [ink(Image.open(p)) for p in sorted(folder.glob("*/truth.png"))]
    for kind, damage in KINDS.items():
        gains = []
        errors = np.zeros(2)
        for truth in truths:
            source = damage(truth)
            grey = source.convert("L")
            level = threshold_otsu(array(grey).astype(np.uint8))
            bicubic = array(grey.resize(truth.shape[::-1], Image.Resampling.BICUBIC)) <= level
            with tempfile.TemporaryDirectory() as temp:
                source.save(f"{temp}/art.png")
                subprocess.run([filmquilt, "onebit", f"{temp}/art.png", "--width", f"{truth.shape[1] / 300}in",
                                "--ppi", "300", "--quiet", "-o", f"{temp}/film.png"], check=True)
                film = ink(Image.open(f"{temp}/film.png"))
            made = np.array([np.count_nonzero(f != truth) / perimeter(truth) for f in (bicubic, film)])
            errors += made
            gains.append(made[0] / made[1])
        gain = round(errors[0] / errors[1], 2)
        print(json.dumps({"kind": kind, "gain": gain, "least": round(min(gains), 2)}), flush=True)
    for name in ("camera", "astronaut", "coins", "grass"):
        print(json.dumps({"photograph": name, "as it is": as_it_is(filmquilt, name)}), flush=True)


def as_it_is(filmquilt, name):
    with tempfile.TemporaryDirectory() as temp:
        Image.fromarray(getattr(skimage.data, name)()).save(f"{temp}/photograph.png")
        films = []
        for edges in ("auto", "plain"):
            film = f"{temp}/{edges}.png"
            subprocess.run([filmquilt, "onebit", f"{temp}/photograph.png", "--width", "8in", "--ppi", "100",
                            "--edges", edges, "--quiet", "-o", film], check=True)
            films.append(ink(Image.open(film)))
        return bool((films[0] == films[1]).all())


if __name__ == "__main__":
    main()
