"""Prints pages on a made-up printer, and measures what comes out.

printed.py measure PAGE.pdf SCALE_X SCALE_Y LEAN
    Lengths between the calibration page's crosses as they come out, in mm.
printed.py film FOLDER WHOLE.png SCALE_X SCALE_Y LEAN
    Compares every sheet of an export, as it comes out, with the whole film.
printed.py spread FOLDER PLAIN.png
    Compares the sheets of an export with the film before its edges were drawn in by a pixel.

Films are rendered by poppler, calibration pages by mupdf. The printer puts what stands at (x, y) from the page's middle,
y down, at (SCALE_X x + LEAN y, SCALE_Y y).
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image
from scipy import ndimage

Image.MAX_IMAGE_PIXELS = None


def rendered(pdf, page, dpi):
    """The page as poppler shows it, 0 clear to 1 ink."""
    with tempfile.TemporaryDirectory() as folder:
        stem = Path(folder) / "page"
        command = ["pdftoppm", "-r", str(dpi), "-gray", "-f", str(page), "-l", str(page)]
        subprocess.run([*command, "-singlefile", pdf, stem], check=True)
        with Image.open(f"{stem}.pgm") as image:
            return 1 - np.asarray(image.convert("L"), dtype=np.float32) / 255


def seen_at(ink, dpi, faults, x, y):
    """The printed page's ink at places in mm from its top-left corner."""
    scale_x, scale_y, lean = faults
    height, width = ink.shape
    mx, my = width / dpi * 12.7, height / dpi * 12.7
    v = (y - my) / scale_y
    u = (x - mx - lean * v) / scale_x
    px = dpi / 25.4
    rows, columns = (v + my) * px - 0.5, (u + mx) * px - 0.5
    return ndimage.map_coordinates(ink, [rows, columns], order=1, mode="constant")


def cross(ink, dpi, faults, x, y):
    """The middle of the hairlines near a place: the centroid of what each crosses."""
    fine = np.arange(-4, 4, 0.02)
    clear = [d for d in (-4.0, -3.5, -3.0, 3.0, 3.5, 4.0)]
    across = np.mean([seen_at(ink, dpi, faults, x + fine, np.full_like(fine, y + d)) for d in clear], 0)
    down = np.mean([seen_at(ink, dpi, faults, np.full_like(fine, x + d), y + fine) for d in clear], 0)
    middle = lambda line: float((fine * line).sum() / line.sum())
    # Letters stand near some crosses: only the strongest line counts.
    keep = lambda line: np.where(np.abs(fine - fine[line.argmax()]) < 0.3, line, 0)
    return x + middle(keep(across)), y + middle(keep(down))


def measure(pdf, faults):
    # Poppler moves hairlines to whole pixels; mupdf shades them where they are.
    dpi = 300
    with tempfile.TemporaryDirectory() as folder:
        page = f"{folder}/page.pgm"
        command = ["mutool", "draw", "-q", "-r", str(dpi), "-A", "8", "-c", "gray", "-F", "pgm"]
        subprocess.run([*command, "-o", page, pdf, "1"], check=True)
        with Image.open(page) as image:
            ink = 1 - np.asarray(image.convert("L"), dtype=np.float32) / 255
    height, width = (n / dpi * 25.4 for n in ink.shape)
    # The crosses of a 13 x 19 in sheet stand 300 and 460 mm apart, about the middle.
    at = {}
    for n, name in enumerate("ABCDEFGHI"):
        dx, dy = (n % 3 - 1) * 150.0, (n // 3 - 1) * 230.0
        found = cross(ink, dpi, faults, width / 2 + dx, height / 2 + dy)
        at[name] = cross(ink, dpi, faults, *found)
    far = lambda a, b: float(np.hypot(at[a][0] - at[b][0], at[a][1] - at[b][1]))
    print(json.dumps({
        "across": [far("A", "C"), far("D", "F"), far("G", "I")],
        "down": [far("A", "G"), far("B", "H"), far("C", "I")],
        "falling": [far("A", "I")],
        "rising": [far("G", "C")],
    }))


def ink_of(png):
    with Image.open(png) as image:
        return np.asarray(image.convert("L")) < 128


def sheets(folder, faults, dpi_for):
    """Each sheet with what comes out at the middles of its film pixels, the right way up."""
    plan = json.loads((Path(folder) / "plan.json").read_text())
    ppi = plan["film"]["ppi"]
    mm = 25.4 / ppi
    for sheet in plan["sheets"]:
        dpi = dpi_for(ppi)
        ink = rendered(str(Path(folder) / "film.pdf"), sheet["page"], dpi)
        wide, high = sheet["width_px"], sheet["height_px"]
        if sheet["turned"]:
            wide, high = high, wide
        x = (sheet["image_x_px"] + np.arange(wide) + 0.5) * mm
        y = (sheet["image_y_px"] + np.arange(high) + 0.5) * mm
        x, y = np.meshgrid(x, y)
        seen = seen_at(ink, dpi, faults, x, y) > 0.5
        yield plan, sheet, np.rot90(seen) if sheet["turned"] else seen


def clear_of_marks(plan, sheet):
    ok = np.ones((sheet["height_px"], sheet["width_px"]), bool)
    for mark in plan["marks"]:
        if mark["sheet"] == sheet["name"]:
            x, y = mark["x_px"] - sheet["x_px"], mark["y_px"] - sheet["y_px"]
            ok[max(y - 2, 0):y + mark["height_px"] + 2, max(x - 2, 0):x + mark["width_px"] + 2] = False
    return ok


def film(folder, png, faults):
    whole = ink_of(png)
    wrong = looked = count = 0
    for plan, sheet, seen in sheets(folder, faults, lambda ppi: 6 * ppi):
        x, y = sheet["x_px"], sheet["y_px"]
        part = whole[y:y + sheet["height_px"], x:x + sheet["width_px"]]
        # Within a pixel: what is seen is there in the film, there or beside it.
        near = np.ones((3, 3), bool)
        could_be = np.where(
            seen, ndimage.binary_dilation(part, near), ~ndimage.binary_erosion(part, near, border_value=1)
        )
        ok = clear_of_marks(plan, sheet)
        wrong += int((~could_be & ok).sum())
        looked += int(ok.sum())
        count += 1
    print(json.dumps({"sheets": count, "looked_at": looked, "wrong": wrong}))


def spread(folder, png):
    plain = ink_of(png)
    cross_shape = ndimage.generate_binary_structure(2, 1)
    wrong = lost = drawn_in = 0
    for plan, sheet, seen in sheets(folder, (1, 1, 0), lambda ppi: ppi):
        x, y = sheet["x_px"], sheet["y_px"]
        part = plain[y:y + sheet["height_px"], x:x + sheet["width_px"]]
        ok = clear_of_marks(plan, sheet)
        # A pixel's rim of the sheet has its surroundings on another.
        ok[:2] = ok[-2:] = False
        ok[:, :2] = ok[:, -2:] = False
        thin = ndimage.binary_erosion(part, cross_shape, border_value=1)
        thick = ndimage.binary_dilation(thin, cross_shape) & part
        wrong += int(((seen & ~part) | (thin & ~seen)) [ok].sum())
        # Nothing of the art is further than two pixels from what is left of it.
        left = ndimage.binary_dilation(seen, ndimage.iterate_structure(cross_shape, 2))
        lost += int((part & ~left & ok).sum())
        drawn_in += int((thick & ~seen & ok).sum())
    print(json.dumps({"wrong": wrong, "lost": lost, "drawn_in": drawn_in}))


if __name__ == "__main__":
    what, path, *rest = sys.argv[1:]
    if what == "measure":
        measure(path, [float(n) for n in rest])
    elif what == "film":
        film(path, rest[0], [float(n) for n in rest[1:]])
    else:
        spread(path, rest[0])
