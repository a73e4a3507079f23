#!/usr/bin/env python3
"""Pictures in many formats, written by Pillow, each with a plain 8-bit PNG twin of the same greys.

    make_pictures.py all FOLDER     prints one line of JSON a picture: file, twin, exact
    make_pictures.py noise FILE     black and white noise, which packs badly

A twin of a lossy file is what Pillow reads back from it.
"""
import json
import pathlib
import sys

import numpy as np
from PIL import Image, ImageDraw, ImageOps

FLIPPED = {  # what undoes each EXIF orientation (Exif 2.32, 4.6.4, tag 0x0112), to store it so
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def drawing():
    """A grey drawing that no turn or flip maps onto itself, with soft edges and shades."""
    big = Image.new("L", (4 * 176, 4 * 128), 255)
    pen = ImageDraw.Draw(big)
    pen.ellipse((60, 50, 330, 320), fill=0)
    pen.ellipse((150, 110, 250, 260), fill=235)
    pen.polygon([(360, 480), (500, 90), (560, 470)], fill=40)
    pen.line((30, 470, 320, 360), fill=10, width=26)
    for step in range(12):
        pen.rectangle((580 + 8 * step, 40, 588 + 8 * step, 220), fill=20 * step)
    return big.resize((176, 128), Image.Resampling.BOX)


def every(folder):
    grey = drawing()
    plain = np.asarray(grey)
    twin = folder / "plain.png"
    grey.save(twin)

    def tell(name, picture, exact=True, like=None, **how):
        path = folder / name
        picture.save(path, **how)
        if like is None:
            like = twin
        elif like == "itself":
            like = folder / f"{path.stem}-twin.png"
            ImageOps.exif_transpose(Image.open(path)).convert("L").save(like)
        print(json.dumps({"file": str(path), "twin": str(like), "exact": exact}))

    colour = Image.merge("RGB", (grey, grey, grey))
    deep = Image.fromarray(plain.astype(np.uint16) * 257)
    tell("deep.png", deep)
    tell("deep.tif", deep)
    tell("palette.png", grey.convert("P"))
    # The palette upside down, so that indices are not greys.
    shades = Image.frombytes("P", grey.size, (255 - plain).tobytes())
    shades.putpalette([255 - i // 3 for i in range(768)])
    tell("palette-turned.png", shades)
    tell("colour.png", colour)
    hard = grey.point(lambda v: 255 if v >= 128 else 0, "1")
    hard.convert("L").save(folder / "hard.png")
    tell("bit.png", hard, like=folder / "hard.png")
    tell("bit.tif", hard, like=folder / "hard.png", compression="group4")
    # Black ink whose opacity is what the grey lacks, over nothing: white where it is clear.
    black = Image.new("L", grey.size, 0)
    opacity = ImageOps.invert(grey)
    tell("clear.png", Image.merge("RGBA", (black, black, black, opacity)))
    tell("clear-grey.png", Image.merge("LA", (black, opacity)))
    tell("clear.webp", Image.merge("RGBA", (black, black, black, opacity)), lossless=True, exact=True)
    # A hidden colour under full transparency must not show.
    hidden = Image.composite(grey, Image.new("L", grey.size, 0), opacity.point(lambda v: 255 if v else 0))
    mask = opacity.point(lambda v: 255 if v else 0)
    tell("hidden.png", Image.merge("RGBA", (hidden, hidden, hidden, mask)))
    tell("lzw.tif", grey, compression="tiff_lzw")
    tell("lzw-colour.tif", colour, compression="tiff_lzw")
    tell("deflate.tif", grey, compression="tiff_adobe_deflate")
    tell("lossless.webp", colour, lossless=True)
    tell("grey.bmp", grey)
    tell("colour.bmp", colour)
    tell("grey.gif", grey)
    grey.save(folder / "really-png.png")
    (folder / "really-png.png").rename(folder / "really-png.jpg")
    print(json.dumps({"file": str(folder / "really-png.jpg"), "twin": str(twin), "exact": True}))
    tell("lossy.webp", colour, exact=False, like="itself", quality=80)
    tell("grey.jpg", grey, exact=False, like="itself", quality=90)
    tell("colour.jpg", colour, exact=False, like="itself", quality=90)
    tell("progressive.jpg", colour, exact=False, like="itself", quality=90, progressive=True)
    tell("cmyk.jpg", colour.convert("CMYK"), exact=False, like="itself", quality=95)
    for orientation, turn in FLIPPED.items():
        stored = grey.transpose(turn) if turn is not None else grey
        exif = Image.Exif()
        exif[0x0112] = orientation
        tell(f"turn-{orientation}.png", stored, exif=exif)
        tell(f"turn-{orientation}.jpg", stored, exact=False, like="itself", exif=exif, quality=95)
        tell(f"turn-{orientation}.tif", stored, exif=exif)
        tell(f"turn-{orientation}.webp", stored.convert("RGB"), exif=exif, lossless=True)


def main():
    what, where = sys.argv[1], pathlib.Path(sys.argv[2])
    if what == "all":
        every(where)
    else:
        noise = np.random.default_rng(1).random((800, 800)) < 0.5
        Image.fromarray(noise.astype(np.uint8) * 255).save(where)


main()
