"""Photographs made from an export's own PDF pages.

photograph.py screen FOLDER OUT.jpg
    A washed-out screen against a light, with a closed detail and a pinhole; their places in
    the film's mm are printed as JSON.
photograph.py film FOLDER OUT.jpg SHEET DX_MM
    The taped film, with one sheet slipped to the right.

Pages are rendered by poppler; OpenCV is the camera.
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np

AROUND_MM = 40


def pages(folder, plan):
    """Each sheet's ink as on the film, the right way up, with the sheet."""
    ppi = plan["film"]["ppi"]
    for sheet in plan["sheets"]:
        with tempfile.TemporaryDirectory() as scratch:
            stem = Path(scratch) / "page"
            page = str(sheet["page"])
            subprocess.run(
                ["pdftoppm", "-r", str(ppi), "-gray", "-f", page, "-l", page, "-singlefile",
                 str(Path(folder) / "film.pdf"), stem], check=True)
            ink = cv2.imread(f"{stem}.pgm", cv2.IMREAD_GRAYSCALE) < 128
        wide, high = sheet["width_px"], sheet["height_px"]
        if sheet["turned"]:
            wide, high = high, wide
        x, y = sheet["image_x_px"], sheet["image_y_px"]
        part = ink[y:y + high, x:x + wide]
        yield sheet, np.rot90(part) if sheet["turned"] else part


def taped(folder, plan, slipped=None, by_px=0):
    film = np.zeros((plan["film"]["height_px"], plan["film"]["width_px"]), bool)
    for sheet, ink in pages(folder, plan):
        x, y = sheet["x_px"], sheet["y_px"]
        high, wide = ink.shape
        if sheet["name"] == slipped:
            ink = np.roll(ink, by_px, 1)
        film[y:y + high, x:x + wide] |= ink
    return film


def spoilt(film, px_mm, rng):
    """The film with a closed detail and a pinhole, each 1.6 mm across and far from any edge."""
    places = {}
    far = int(4 * px_mm)
    for name, ink in [("closed", True), ("pinhole", False)]:
        even = cv2.distanceTransform((film == ink).astype(np.uint8), cv2.DIST_L2, 5)
        even[:far] = even[-far:] = 0
        even[:, :far] = even[:, -far:] = 0
        ys, xs = np.nonzero(even > 0.8 * min(even.max(), far * 2))
        n = rng.integers(len(xs))
        places[name] = [float((xs[n] + 0.5) / px_mm), float((ys[n] + 0.5) / px_mm)]
        shape = film.astype(np.uint8)
        cv2.circle(shape, (int(xs[n]), int(ys[n])), int(0.8 * px_mm), int(not ink), -1)
        film = shape.astype(bool)
    return film, places


def photograph(light, out, rng, dark):
    """From about 8 Mpx, tilted, under uneven light, a little blurred and noisy."""
    high, wide = light.shape
    width, height = 3400, 2400
    fill = 0.86 * min(width / wide, height / high)
    w, h = wide * fill / 2, high * fill / 2
    corners = np.float32([[-w, -h], [w, -h], [w, h], [-w, h]])
    corners += np.float32([width / 2, height / 2]) + rng.uniform(-0.02, 0.02, (4, 2)) * width
    source = np.float32([[0, 0], [wide, 0], [wide, high], [0, high]]) - 0.5
    matrix = cv2.getPerspectiveTransform(source, (corners - 0.5).astype(np.float32))
    soft = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.45 / fill)
    seen = cv2.warpPerspective(soft, matrix, (width, height), flags=cv2.INTER_LINEAR, borderValue=dark)
    y, x = np.mgrid[0:height, 0:width] / width
    seen *= 0.95 - 0.5 * ((x - 0.45) ** 2 + (y - 0.4) ** 2)
    seen = cv2.GaussianBlur(seen, (0, 0), 0.7) + rng.normal(0, 0.006, seen.shape)
    seen = np.clip(seen, 0, 1)
    srgb = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    cv2.imwrite(out, (srgb * 255).round().astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 92])


def main(what, folder, out, *rest):
    plan = json.loads((Path(folder) / "plan.json").read_text())
    px_mm = plan["film"]["ppi"] / 25.4
    rng = np.random.default_rng(5)
    around = int(AROUND_MM * px_mm)
    if what == "screen":
        film, places = spoilt(taped(folder, plan), px_mm, rng)
        # Open mesh where the film is black; emulsion lets a third of the light through.
        screen = np.pad(np.where(film, 0.9, 0.3), around, constant_values=0.3)
        photograph(screen, out, rng, 0.05)
        print(json.dumps(places))
    else:
        film = taped(folder, plan, rest[0], round(float(rest[1]) * px_mm))
        photograph(np.pad(np.where(film, 0.03, 0.93), around, constant_values=1.0), out, rng, 0.3)


main(*sys.argv[1:])
