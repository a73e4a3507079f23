#!/usr/bin/env python3
"""Draws the demo artwork: the sign of a night-market dumpling stall that we made up.

    python3 draw.py        writes lantern-moth.svg beside this script (standard library only)

lantern-moth.png, the small picture the demo job starts from, is that drawing at 490 x 420
pixels, anti-aliased, as a printer would get it by mail (any SVG renderer will do).
"""
import math
import pathlib

W, H = 1400, 1200
out = []


def path(d, ink=True, width=0.0):
    fill, line = ("#000", "#000") if ink else ("#fff", "#fff")
    style = f'fill="none" stroke="{line}" stroke-width="{width}"' if width else f'fill="{fill}"'
    out.append(f'<path d="{d}" {style} stroke-linecap="round" stroke-linejoin="round"/>')


def both(points_to_d, **kw):
    """A shape and its mirror image about the centre line."""
    for side in (1, -1):
        path(points_to_d(lambda x, y: f"{W / 2 + side * x:.1f} {y:.1f}"), **kw)


def disc(x, y, r, ink=True):
    out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" fill="{"#000" if ink else "#fff"}"/>')


def wings():
    both(lambda p: f"M{p(24, 420)} C{p(120, 250)} {p(420, 90)} {p(665, 150)} "
                   f"C{p(690, 260)} {p(640, 420)} {p(540, 500)} C{p(400, 600)} {p(150, 560)} {p(30, 520)} Z")
    both(lambda p: f"M{p(30, 530)} C{p(180, 590)} {p(380, 600)} {p(470, 640)} "
                   f"C{p(500, 760)} {p(430, 900)} {p(300, 960)} C{p(250, 880)} {p(90, 760)} {p(28, 600)} Z")
    # Veins and bands, cut out of the black.
    for i in range(9):
        t = i / 8
        both(lambda p, t=t: f"M{p(60, 440 + 50 * t)} Q{p(300 + 40 * t, 230 + 240 * t)} "
                            f"{p(640 - 150 * t, 185 + 270 * t)}", ink=False, width=4 + 3 * math.sin(t * math.pi))
    both(lambda p: f"M{p(585, 150)} C{p(600, 270)} {p(540, 400)} {p(430, 520)}", ink=False, width=13)
    both(lambda p: f"M{p(612, 152)} C{p(630, 280)} {p(575, 410)} {p(470, 505)}", ink=False, width=4)
    for i in range(6):
        t = i / 5
        both(lambda p, t=t: f"M{p(60, 585 + 30 * t)} Q{p(200 + 40 * t, 640 + 60 * t)} "
                            f"{p(440 - 150 * t, 700 + 210 * t)}", ink=False, width=5)
    for side in (1, -1):
        for x, y, r in ((350, 330, 74), (270, 720, 58)):
            cx = W / 2 + side * x
            for k, ink in ((1.0, False), (.8, True), (.55, False), (.36, True)):
                disc(cx, y, r * k, ink)
            for j in range(24):
                a = j * math.tau / 24
                disc(cx + r * 1.22 * math.cos(a), y + r * 1.22 * math.sin(a), 5 if j % 2 else 3, False)
            disc(cx - r * .1, y - r * .12, r * .1, False)
        for j in range(11):  # scalloped edge
            t = j / 10
            disc(W / 2 + side * (655 - 118 * t * t), 190 + 300 * t, 13 - 5 * t, False)


def body():
    both(lambda p: f"M{p(0, 360)} C{p(50, 380)} {p(58, 440)} {p(40, 520)} "
                   f"C{p(52, 640)} {p(34, 760)} {p(0, 830)} Z")
    for i in range(9):
        y, half = 560 + 27 * i, 36 - 3.2 * i
        path(f"M{W / 2 - half:.1f} {y} Q{W / 2} {y + 16} {W / 2 + half:.1f} {y}", ink=False, width=6)
    disc(W / 2 - 22, 400, 9, False)
    disc(W / 2 + 22, 400, 9, False)
    for i in range(15):  # feathered antennae
        t = i / 14
        x, y = 20 + 190 * t, 372 - 250 * t + 90 * t * t
        both(lambda p, x=x, y=y, t=t: f"M{p(x, y)} l{0} {0} L{p(x + 34 - 18 * t, y - 8)}", width=5)
        both(lambda p, x=x, y=y, t=t: f"M{p(x, y)} L{p(x - 6, y - 36 + 18 * t)}", width=5)
    both(lambda p: f"M{p(16, 378)} Q{p(110, 250)} {p(214, 208)}", width=8)


def lantern(x, y, s):
    out.append(f'<g transform="translate({x:.1f} {y:.1f}) scale({s:.3f})">')
    # A clear rim keeps the lantern apart from the wing behind it.
    path("M-46 -62 C-92 -30 -92 40 -46 66 L46 66 C92 40 92 -30 46 -62 Z M0 -90 V140", ink=False, width=34)
    path("M-46 -62 C-92 -30 -92 40 -46 66 L46 66 C92 40 92 -30 46 -62 Z")
    for i in range(-2, 3):
        path(f"M{i * 15} -60 C{i * 34} -30 {i * 34} 40 {i * 15} 64", ink=False, width=3.5)
    path("M-50 -62 H50 M-50 66 H50", width=13)
    path("M-50 -62 H50 M-50 66 H50", ink=False, width=2.5)
    path("M0 -68 V-100 M0 72 V96", width=5)
    for i in range(-3, 4):
        path(f"M{i * 2} 96 L{i * 5} 138", width=3)
    out.append("</g>")


def strings():
    path(f"M0 60 Q350 150 700 66 Q1050 150 1400 60", width=6)
    for x, y, s in ((95, 150, .62), (250, 180, .8), (420, 188, .62), (980, 188, .62), (1150, 180, .8), (1305, 150, .62)):
        lantern(x, y, s)
    for i in range(29):
        x = 25 + 50 * i
        y = 62 + 42 * abs(math.sin(x / 700 * math.pi)) + 10
        path(f"M{x} {y - 6:.1f} l-9 22 h18 Z")


def steam_and_bowl():
    for i in range(12):
        y = 1188 - 26 * i
        amp, phase = 16 - i * .6, i * .9
        pts = []
        for x in range(0, W + 1, 20):
            pts.append((x, y + amp * math.sin(x / 62 + phase)))
        d = "M" + " L".join(f"{x} {yy:.1f}" for x, yy in pts)
        path(d, width=11 - i * .75)
    # The bowl clears the waves behind it.
    path("M430 985 H970 C960 1120 860 1196 700 1196 C540 1196 440 1120 430 985 Z", ink=False, width=34)
    path("M430 985 H970 C960 1120 860 1196 700 1196 C540 1196 440 1120 430 985 Z")
    path("M470 1025 H930", ink=False, width=7)
    for i in range(13):
        x = 494 + 34.5 * i
        path(f"M{x - 13:.1f} 1062 L{x:.1f} 1042 L{x + 13:.1f} 1062 L{x:.1f} 1082 Z", ink=False)
    path("M505 1102 Q700 1160 895 1102", ink=False, width=5)
    for x in (520, 610, 700, 790, 880):  # dumplings
        path(f"M{x - 52} 985 C{x - 50} 925 {x + 50} 925 {x + 52} 985 Z", ink=False, width=12)
        path(f"M{x - 52} 985 C{x - 50} 925 {x + 50} 925 {x + 52} 985 Z")
        for k in (-2, -1, 0, 1, 2):
            path(f"M{x + k * 6} 944 Q{x + k * 11} 956 {x + k * 15} 972", ink=False, width=3)


def stars():
    for i in range(90):
        a = i * 2.399963
        r = 60 + 8.5 * i
        x, y = W / 2 + r * math.cos(a) * 1.15, 640 + r * math.sin(a)
        near_moth = abs(x - W / 2) < 520 - .35 * max(0, y - 500) and 130 < y < 960
        if near_moth or not (30 < x < W - 30) or not (545 < y < 870):
            continue
        s = 7 + (i * 7 % 11)
        path(f"M{x:.1f} {y - s:.1f} Q{x:.1f} {y:.1f} {x + s:.1f} {y:.1f} Q{x:.1f} {y:.1f} {x:.1f} {y + s:.1f} "
             f"Q{x:.1f} {y:.1f} {x - s:.1f} {y:.1f} Q{x:.1f} {y:.1f} {x:.1f} {y - s:.1f} Z")


for draw in (wings, body, strings, steam_and_bowl, stars):
    draw()
svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {W} {H}" width="{W}" height="{H}">'
       f'<rect width="{W}" height="{H}" fill="#fff"/>' + "".join(out) + "</svg>\n")
pathlib.Path(__file__).with_name("lantern-moth.svg").write_text(svg)
