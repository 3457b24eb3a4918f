"""What the example's pictures show: one function a subject, each varied by the plate's seed."""

from collections.abc import Callable, Mapping
from math import cos, pi, sin
from types import MappingProxyType

from example_archive.pictures import Colour, Plate, mix

SKIES: tuple[tuple[Colour, Colour], ...] = (
    ((92, 128, 170), (214, 220, 216)),
    ((120, 126, 138), (222, 216, 205)),
    ((58, 72, 118), (240, 178, 122)),
    ((150, 168, 182), (232, 230, 222)),
    ((40, 62, 104), (196, 150, 150)),
)
INK: Colour = (22, 24, 28)


def _sky(p: Plate, horizon: float = 1) -> Colour:
    top, low = p.rng.choice(SKIES)
    p.ramp(top, low, 0, horizon)
    p.clouds(p.u(0.3, 0.9), horizon)
    return low


def _person(p: Plate, x: float, foot: float, tall: float, colour: Colour) -> None:
    a = tall * p.h / p.w
    p.oval(x, foot - tall * 0.92, tall * 0.075, tall * 0.09, colour)
    p.poly(
        [
            (x - a * 0.13, foot - tall * 0.8),
            (x + a * 0.13, foot - tall * 0.8),
            (x + a * 0.17, foot - tall * 0.38),
            (x - a * 0.16, foot - tall * 0.38),
        ],
        colour,
    )
    p.poly(
        [
            (x - a * 0.14, foot - tall * 0.4),
            (x - a * 0.02, foot - tall * 0.4),
            (x - a * 0.1, foot),
            (x - a * 0.18, foot),
        ],
        colour,
    )
    p.poly(
        [
            (x + a * 0.02, foot - tall * 0.4),
            (x + a * 0.14, foot - tall * 0.4),
            (x + a * 0.2, foot),
            (x + a * 0.11, foot),
        ],
        colour,
    )


def harbour(p: Plate) -> None:
    water = p.u(0.5, 0.62)
    low = _sky(p, water)
    p.ridge(water - 0.12, 0.03, mix(low, INK, 0.35), water)
    x = 0.0
    while x < 1:
        w, h = p.u(0.05, 0.11), p.u(0.07, 0.2)
        p.box(x, water - h, w, h, mix((190, 120, 84), (224, 206, 176), p.u(0, 1)))
        p.poly([(x - 0.005, water - h), (x + w / 2, water - h - 0.06), (x + w + 0.005, water - h)], (92, 58, 52))
        for n in range(3):
            p.box(x + w * (0.15 + n * 0.28), water - h * 0.7, w * 0.14, h * 0.25, (48, 50, 60))
        x += w
    p.reflect(water, 0.72)
    for _ in range(p.rng.randint(2, 4)):
        x, y, s = p.u(0.1, 0.85), p.u(water + 0.1, 0.88), p.u(0.09, 0.17)
        hull = p.rng.choice([(168, 52, 44), (238, 236, 228), (36, 70, 104), (52, 96, 78)])
        p.poly([(x - s, y), (x + s, y), (x + s * 0.75, y + s * 0.4), (x - s * 0.7, y + s * 0.4)], hull)
        p.box(x - s * 0.4, y - s * 0.35, s * 0.6, s * 0.35, mix(hull, (240, 240, 232), 0.7))
        p.line([(x + s * 0.3, y), (x + s * 0.3, y - s * 2.6)], INK, 4)
        p.line([(x + s * 0.3, y - s * 2.6), (x + s, y)], INK, 2)
        p.poly([(x - s * 0.7, y + s * 0.4), (x + s * 0.75, y + s * 0.4), (x, y + s * 0.7)], mix(hull, INK, 0.6))


def hills(p: Plate) -> None:
    low = _sky(p, 0.7)
    p.glow(p.u(0.15, 0.85), p.u(0.2, 0.4), 0.25, (90, 80, 60), 0.9)
    count = p.rng.randint(5, 7)
    near = p.rng.choice([(24, 44, 40), (34, 36, 54), (52, 44, 30)])
    for n in range(count):
        part = n / (count - 1)
        p.ridge(0.4 + 0.5 * part, 0.05 + 0.02 * part, mix(mix(low, near, 0.2), near, part))
        p.mist(0.5 + 0.5 * part, 0.05, low, 0.35 * (1 - part))


def street(p: Plate) -> None:
    p.ramp((24, 30, 54), (126, 96, 92))
    vx, vy = p.u(0.38, 0.62), p.u(0.46, 0.55)
    p.poly([(0, 1), (vx - 0.02, vy), (vx + 0.02, vy), (1, 1)], (66, 64, 68))
    lamps = []
    for side in (0, 1):
        for n in range(5):
            near, far = 0.72**n, 0.72 ** (n + 1)
            x0, x1 = (vx + (side - vx) * near), (vx + (side - vx) * far)
            tall = p.u(0.6, 0.95)
            wall = mix((128, 92, 74), (74, 78, 96), p.u(0, 1))
            p.poly(
                [
                    (x0, vy - tall * near),
                    (x1, vy - tall * far),
                    (x1, vy + 0.45 * far),
                    (x0, vy + 0.45 * near),
                ],
                mix(wall, (60, 50, 60), n / 6),
            )
            for i in range(3):
                for j in range(4):
                    a, b = (i + 0.3) / 3, (i + 0.75) / 3
                    xa, xb = x0 + (x1 - x0) * a, x0 + (x1 - x0) * b
                    sa = near + (far - near) * a
                    y = vy - tall * sa * (0.9 - j * 0.24)
                    lit = p.rng.random() < 0.4
                    p.poly(
                        [(xa, y), (xb, y), (xb, y + 0.12 * sa), (xa, y + 0.12 * sa)],
                        (250, 208, 130) if lit else (34, 36, 48),
                    )
            lamps.append((vx + (side - vx) * near * 0.8, vy - 0.12 * near, near))
    p.texture(vy, 7)
    for x, y, near in lamps[:4] + lamps[5:9]:
        p.line([(x, y), (x, vy + 0.4 * near)], INK, max(2, round(7 * near)))
        p.glow(x, y, 0.07 * near + 0.012, (255, 206, 128), 1.1)
        p.glow(x, vy + 0.42 * near, 0.1 * near, (120, 88, 50), 0.7)
    for _ in range(p.rng.randint(1, 3)):
        _person(p, p.u(0.3, 0.7), p.u(0.75, 0.95), p.u(0.2, 0.36), INK)


def portrait(p: Plate) -> None:
    back = p.rng.choice([(120, 112, 96), (84, 100, 112), (140, 104, 90), (70, 84, 66)])
    p.ramp(mix(back, (255, 255, 255), 0.25), mix(back, INK, 0.5))
    for _ in range(9):
        p.oval(
            p.u(0, 1),
            p.u(0, 0.8),
            p.u(0.04, 0.12),
            p.u(0.05, 0.13),
            mix(back, (255, 244, 214), p.u(0.1, 0.6)),
        )
    p.soften(16)
    a = p.h / p.w
    x, y, s = p.u(0.38, 0.62), p.u(0.38, 0.44), p.u(0.17, 0.21)
    skin = p.rng.choice([(226, 184, 154), (172, 122, 92), (120, 82, 62), (236, 200, 176)])
    hair = p.rng.choice([(36, 28, 26), (96, 66, 40), (190, 184, 176), (60, 40, 34)])
    coat = p.rng.choice([(52, 60, 78), (126, 52, 48), (210, 204, 190), (60, 80, 62)])
    if p.rng.random() < 0.5:
        p.oval(x, y + s * 0.5, s * 1.12, s * 1.55, hair)
    p.poly(
        [
            (x - s * 2 * a, 1.01),
            (x - s * 1.7 * a, y + s * 2.2),
            (x - s * 0.5 * a, y + s * 1.5),
            (x + s * 0.5 * a, y + s * 1.5),
            (x + s * 1.7 * a, y + s * 2.2),
            (x + s * 2 * a, 1.01),
        ],
        coat,
    )
    p.poly(
        [
            (x - s * 0.38 * a, y + s * 0.7),
            (x + s * 0.38 * a, y + s * 0.7),
            (x + s * 0.42 * a, y + s * 1.6),
            (x, y + s * 1.95),
            (x - s * 0.42 * a, y + s * 1.6),
        ],
        mix(skin, INK, 0.28),
    )
    p.oval(x, y - s * 0.25, s * 0.98, s * 1.05, hair)
    p.oval(x, y + s * 0.1, s * 0.8, s * 1.08, skin)
    p.poly(
        [
            (x - s * 0.8 * a, y - s * 0.2),
            (x - s * 0.3 * a, y - s * 0.72),
            (x + s * 0.7 * a, y - s * 0.5),
            (x + s * 0.82 * a, y - s * 0.2),
            (x + s * 0.5 * a, y - s * 1.1),
            (x - s * 0.6 * a, y - s * 1.05),
        ],
        hair,
    )
    dark = mix(skin, INK, 0.75)
    for side in (-1, 1):
        p.oval(x + side * s * 0.33 * a, y + s * 0.08, s * 0.11, s * 0.055, dark)
        p.line([(x + side * s * 0.18 * a, y - s * 0.1), (x + side * s * 0.5 * a, y - s * 0.08)], hair, 6)
    p.line(
        [(x, y + s * 0.1), (x + s * 0.1 * a, y + s * 0.45), (x - s * 0.04 * a, y + s * 0.47)],
        mix(skin, INK, 0.35),
        4,
    )
    p.line(
        [(x - s * 0.25 * a, y + s * 0.72), (x, y + s * 0.76), (x + s * 0.25 * a, y + s * 0.7)],
        mix(skin, (140, 40, 40), 0.6),
        6,
    )
    p.soften(2.2)
    p.glow(x - p.rng.choice([-1, 1]) * s * a, y, 0.3, (60, 52, 44), 0.8)


def market(p: Plate) -> None:
    p.ramp((150, 146, 138), (98, 84, 74))
    for n in range(3):
        p.box(n * 0.36 - 0.02, 0.02, 0.3, 0.5, mix((120, 96, 84), (70, 62, 66), p.u(0, 1)))
    p.soften(7)
    tone = p.rng.choice([(182, 54, 46), (44, 96, 118), (70, 116, 74)])
    for n in range(12):
        p.poly(
            [(n / 12, 0.3), ((n + 1) / 12, 0.3), ((n + 1.4) / 13, 0.12), ((n + 0.6) / 13, 0.12)],
            tone if n % 2 else (238, 230, 212),
        )
        p.oval((n + 0.5) / 12, 0.3, p.w / p.h / 24, 0.03, tone if n % 2 else (238, 230, 212))
    for n in range(3):
        _person(p, p.u(0.1, 0.9), 0.86, p.u(0.44, 0.52), mix(INK, (90, 80, 90), n / 3))
    fruit: tuple[Colour, ...] = ((214, 120, 36), (176, 40, 38), (222, 190, 60), (92, 140, 60), (120, 50, 90))
    for n in range(4):
        x = n / 4
        p.poly([(x + 0.005, 0.7), (x + 0.245, 0.7), (x + 0.235, 0.99), (x + 0.0, 0.99)], (98, 70, 46))
        kind = p.rng.choice(fruit)
        for row in range(5):
            for k in range(6):
                at = (x + 0.03 + k * 0.037 + row % 2 * 0.012, 0.69 + row * 0.05 + p.u(-0.01, 0.01))
                shade = mix(kind, INK, p.u(0, 0.4))
                p.oval(*at, 0.034, 0.034, shade)
                p.oval(at[0] - 0.005, at[1] - 0.012, 0.01, 0.01, mix(shade, (255, 255, 255), 0.5))


def mist_trees(p: Plate) -> None:
    fog: Colour = p.rng.choice([(206, 208, 204), (186, 196, 204), (216, 204, 186)])
    p.ramp(mix(fog, (255, 255, 255), 0.2), mix(fog, INK, 0.15))
    p.glow(p.u(0.2, 0.8), 0.25, 0.35, (50, 46, 34), 0.9)

    def branch(x: float, y: float, angle: float, long: float, width: float, colour: Colour) -> None:
        x2, y2 = x + cos(angle) * long * p.h / p.w, y + sin(angle) * long
        p.line([(x, y), (x2, y2)], colour, max(1, round(width)))
        if width > 1.4:
            for _ in range(3 if width > 5 else 2):
                branch(x2, y2, angle + p.u(-0.65, 0.65), long * p.u(0.6, 0.82), width * 0.62, colour)

    for layer in range(4):
        shade = mix(fog, (30, 34, 32), 0.14 + layer * 0.26)
        for _ in range(5 - layer):
            branch(
                p.u(0, 1),
                0.8 + layer * 0.06,
                -pi / 2 + p.u(-0.08, 0.08),
                0.1 + layer * 0.055,
                4 + layer * 4.5,
                shade,
            )
        p.ridge(0.82 + layer * 0.055, 0.012, shade)
        p.mist(0.8 + layer * 0.05, 0.12, fog, 0.5 - layer * 0.13)


def bridge(p: Plate) -> None:
    water = p.u(0.6, 0.7)
    low = _sky(p, water)
    p.ridge(water - 0.14, 0.05, mix(low, (40, 60, 56), 0.45), water)
    p.ridge(water - 0.05, 0.02, mix(low, (30, 44, 40), 0.7), water)
    stone = mix((150, 136, 118), (96, 98, 104), p.u(0, 1))
    arches, deck = p.rng.randint(2, 4), water - p.u(0.24, 0.32)
    p.poly([(0, deck + 0.05), (0.5, deck - 0.03), (1, deck + 0.05), (1, water), (0, water)], stone)
    p.line([(0, deck + 0.04), (0.5, deck - 0.04), (1, deck + 0.04)], mix(stone, (255, 255, 255), 0.35), 8)
    wide = 1 / arches
    for n in range(arches):
        mid = (n + 0.5) * wide
        arch = [(mid + cos(pi + t * pi / 20) * wide * 0.4, water + sin(pi + t * pi / 20) * 0.2) for t in range(21)]
        p.poly(arch, mix(low, (70, 90, 100), 0.35))
        p.line(arch, mix(stone, INK, 0.5), 6)
    _person(p, p.u(0.3, 0.7), deck - 0.02, 0.11, INK)
    p.reflect(water, 0.66)


def still_life(p: Plate) -> None:
    wall = p.rng.choice([(92, 84, 76), (120, 124, 116), (64, 72, 84)])
    p.ramp(mix(wall, (255, 240, 210), 0.25), mix(wall, INK, 0.25), 0, 0.66)
    p.ramp((156, 118, 82), (90, 62, 42), 0.66, 1)
    p.glow(0.1, 0.1, 0.6, (70, 62, 44), 0.9)
    a = p.h / p.w
    for x in (p.u(0.2, 0.3), p.u(0.46, 0.54), p.u(0.7, 0.8)):
        kind = p.rng.randint(0, 2)
        tone: Colour = p.rng.choice([(60, 92, 84), (176, 72, 50), (226, 218, 200), (44, 58, 92)])
        p.poly([(x, 0.83), (x + 0.26 * a, 0.87), (x + 0.5 * a, 0.82), (x + 0.1 * a, 0.79)], (72, 50, 36))
        if kind == 0:
            p.box(x - 0.1 * a, 0.4, 0.2 * a, 0.44, tone)
            p.oval(x, 0.84, 0.1, 0.025, tone)
            p.poly(
                [
                    (x - 0.1 * a, 0.4),
                    (x - 0.035 * a, 0.3),
                    (x - 0.035 * a, 0.17),
                    (x + 0.035 * a, 0.17),
                    (x + 0.035 * a, 0.3),
                    (x + 0.1 * a, 0.4),
                ],
                tone,
            )
            p.box(x - 0.07 * a, 0.4, 0.03 * a, 0.38, mix(tone, (255, 255, 255), 0.5))
        elif kind == 1:
            for dx, dy in ((-0.1, 0), (0.1, 0.01), (0, -0.13)):
                p.oval(x + dx * a, 0.76 + dy, 0.1, 0.098, mix(tone, (196, 140, 50), 0.6))
                p.oval(x + (dx - 0.03) * a, 0.73 + dy, 0.025, 0.022, (250, 236, 200))
        else:
            p.oval(x, 0.72, 0.17, 0.13, tone)
            p.oval(x, 0.6, 0.13, 0.03, mix(tone, INK, 0.6))
            for _ in range(6):
                top = (x + p.u(-0.2, 0.2) * a, p.u(0.2, 0.42))
                p.line([(x, 0.6), top], (54, 78, 50), 4)
                p.oval(*top, 0.045, 0.045, p.rng.choice([(226, 206, 90), (214, 120, 130), (236, 232, 224)]))
    p.soften(1.2)


def night_sky(p: Plate) -> None:
    p.ramp((8, 12, 32), (54, 58, 88))
    x0, lean = p.u(0.2, 0.6), p.u(-0.3, 0.5)
    for n in range(8):
        p.glow(x0 + lean * n / 8, n / 9, 0.16, (26, 25, 34), 0.7)
    for _ in range(360):
        r = 0.0016 + 0.005 * p.rng.random() ** 6
        p.oval(p.rng.random(), p.rng.random() * 0.85, r, r, mix((130, 140, 180), (255, 250, 236), p.rng.random()))
    p.ridge(0.82, 0.05, (8, 10, 14))
    p.box(p.u(0.2, 0.7), 0.78, 0.012, 0.02, (255, 210, 120))


def snow(p: Plate) -> None:
    p.ramp((150, 160, 176), (222, 226, 230))
    p.ridge(0.5, 0.05, (168, 178, 190))
    for layer in range(3):
        for _ in range(7 - layer):
            x, foot, s = p.u(0, 1), 0.62 + layer * 0.09, 0.16 + layer * 0.1
            tone = mix((120, 134, 142), (34, 48, 50), layer / 2)
            for k in range(4):
                y, half = foot - s * (1 - k * 0.22), s * (0.12 + k * 0.07) * p.h / p.w
                p.poly([(x, y - s * 0.2), (x - half, y + s * 0.14), (x + half, y + s * 0.14)], tone)
                p.poly([(x, y - s * 0.2), (x - half * 0.6, y + s * 0.03), (x + half * 0.1, y)], (236, 240, 244))
        p.ridge(0.64 + layer * 0.1, 0.02, mix((196, 204, 214), (244, 246, 248), layer / 2))
    for n in range(9):
        p.oval(0.5 + sin(n) * 0.02 + n * 0.02, 0.98 - n * 0.022, 0.012, 0.006, (166, 176, 192))
    for _ in range(90):
        r = p.u(0.002, 0.006)
        p.oval(p.rng.random(), p.rng.random(), r, r, (252, 252, 252))


def stairs(p: Plate) -> None:
    p.ramp((206, 200, 186), (150, 140, 128))
    flip, count = p.rng.random() < 0.5, p.rng.randint(9, 13)
    for n in range(count):
        part = n / count
        y, left = 0.98 - part * 0.7, part * 0.45
        shape = [(left, y), (1, y), (1, y - 0.7 / count), (left, y - 0.7 / count)]
        tread = [
            (left, y - 0.7 / count),
            (1, y - 0.7 / count),
            (1, y - 1.0 / count),
            (left + 0.04, y - 1.0 / count),
        ]
        for points, tone in ((shape, mix((84, 78, 76), (120, 112, 106), part)), (tread, (214, 206, 190))):
            p.poly([(1 - x, yy) if flip else (x, yy) for x, yy in points], tone)
    p.poly([(0, 0), (1, 0), (1, 0.1), (0, p.u(0.2, 0.4))], (60, 58, 64))
    at = p.u(0.55, 0.8)
    _person(p, 1 - at if flip else at, 0.62, 0.32, INK)
    p.texture(0.2, 5)


def bicycle(p: Plate) -> None:
    wall = p.rng.choice([(192, 150, 110), (150, 164, 168), (206, 190, 160)])
    p.ramp(mix(wall, (255, 255, 255), 0.2), wall, 0, 0.75)
    for row in range(15):
        p.line([(0, row * 0.05), (1, row * 0.05)], mix(wall, INK, 0.14), 2)
        for k in range(12):
            x = (k + row % 2 / 2) / 11
            p.line([(x, row * 0.05), (x, row * 0.05 + 0.05)], mix(wall, INK, 0.14), 2)
    p.ramp((112, 108, 104), (74, 72, 72), 0.75, 1)
    p.texture(0, 6)
    x, a, frame = p.u(0.3, 0.42), p.h / p.w, p.rng.choice([(150, 34, 34), (26, 60, 70), (30, 30, 32)])
    back, front, crank, seat, bar = (
        (x, 0.68),
        (x + 0.62 * a, 0.68),
        (x + 0.26 * a, 0.69),
        (x + 0.16 * a, 0.4),
        (x + 0.5 * a, 0.4),
    )
    for cx, cy in (back, front):
        p.ring(cx + 0.03, cy + 0.03, 0.17, mix(wall, INK, 0.35), 5)
        p.ring(cx, cy, 0.17, INK, 8)
        for n in range(9):
            p.line([(cx, cy), (cx + cos(n * 0.7) * 0.165 * a, cy + sin(n * 0.7) * 0.165)], (70, 70, 72), 1)
    for path in ([back, crank, bar, seat, crank], [back, seat], [front, bar, (bar[0] - 0.03 * a, 0.32)]):
        p.line(path, frame, 9)
    p.line([(bar[0] - 0.13 * a, 0.33), (bar[0] - 0.02 * a, 0.32), (bar[0] + 0.05 * a, 0.37)], INK, 8)
    p.line([(seat[0] - 0.07 * a, 0.37), (seat[0] + 0.07 * a, 0.38)], INK, 14)


def dog(p: Plate) -> None:
    low = _sky(p, 0.75)
    p.glow(p.u(0.2, 0.8), 0.6, 0.35, (120, 84, 40), 0.8)
    p.ramp(mix(low, (150, 130, 100), 0.4), (84, 72, 56), 0.74, 1)
    p.texture(0.74, 8)
    x, a, s = p.u(0.36, 0.5), p.h / p.w, p.u(0.8, 1.1)

    def at(dx: float, dy: float) -> tuple[float, float]:
        return (x + dx * a * s, 0.86 + dy * s)

    p.poly(
        [
            at(-0.24, -0.34),
            at(0.12, -0.36),
            at(0.2, -0.22),
            at(0.08, -0.16),
            at(-0.08, -0.18),
            at(-0.24, -0.14),
        ],
        INK,
    )
    for dx, lean in ((-0.24, -0.03), (-0.16, 0.04), (0.1, 0.02), (0.16, 0.06)):
        p.poly([at(dx, -0.26), at(dx + 0.06, -0.26), at(dx + 0.04 + lean, 0), at(dx + lean, 0)], INK)
    p.poly(
        [
            at(0.06, -0.34),
            at(0.2, -0.52),
            at(0.32, -0.5),
            at(0.42, -0.43),
            at(0.4, -0.39),
            at(0.28, -0.38),
            at(0.2, -0.2),
        ],
        INK,
    )
    p.poly([at(0.2, -0.52), at(0.22, -0.6), at(0.28, -0.5)], INK)
    p.line([at(-0.22, -0.32), at(-0.36, -0.42), at(-0.4, -0.54)], INK, 12)


def lighthouse(p: Plate) -> None:
    sea = p.u(0.62, 0.7)
    low = _sky(p, sea)
    p.ramp(mix(low, (60, 90, 110), 0.5), (26, 50, 70), sea, 1)
    p.texture(sea, 12)
    x, a = p.u(0.25, 0.75), p.h / p.w
    p.poly(
        [(x - 0.4, 1), (x - 0.18, sea + 0.03), (x - 0.02, sea - 0.04), (x + 0.14, sea), (x + 0.3, 1)],
        (50, 46, 44),
    )
    for n in range(5):
        half0, half1 = (0.05 + n * 0.007) * a, (0.057 + n * 0.007) * a
        y = 0.24 + n * 0.09
        p.poly(
            [(x - half0, y), (x + half0, y), (x + half1, y + 0.09), (x - half1, y + 0.09)],
            (178, 46, 40) if n % 2 else (238, 234, 224),
        )
        p.poly(
            [(x + half0 * 0.3, y), (x + half0, y), (x + half1, y + 0.09), (x + half1 * 0.3, y + 0.09)],
            (104, 36, 36) if n % 2 else (170, 168, 164),
        )
    p.box(x - 0.06 * a, 0.22, 0.12 * a, 0.02, INK)
    p.box(x - 0.035 * a, 0.14, 0.07 * a, 0.08, (252, 232, 160))
    p.poly([(x - 0.05 * a, 0.14), (x, 0.08), (x + 0.05 * a, 0.14)], INK)
    p.glow(x, 0.18, 0.14, (130, 112, 60), 0.9)
    for _ in range(7):
        gx, gy = p.rng.random(), p.u(0.08, 0.45)
        p.line([(gx - 0.016, gy - 0.012), (gx, gy), (gx + 0.016, gy - 0.012)], (60, 60, 64), 3)


def tram(p: Plate) -> None:
    low = _sky(p)
    for side in (0, 1):
        x = 0.0
        for _ in range(4):
            w, h = p.u(0.07, 0.12), p.u(0.45, 0.75)
            left = x if side == 0 else 1 - x - w
            tone = mix(mix((110, 90, 84), low, x), INK, 0.2)
            p.box(left, 0.84 - h * (1 - x), w, h, tone)
            for k in range(6):
                p.box(left + w * 0.2, 0.88 - h * (1 - x) + k * 0.09, w * 0.2, 0.045, mix(tone, INK, 0.5))
                p.box(
                    left + w * 0.6,
                    0.88 - h * (1 - x) + k * 0.09,
                    w * 0.2,
                    0.045,
                    mix(tone, (255, 230, 170), 0.5),
                )
            x += w * 0.8
    p.poly([(0, 1), (0.3, 0.72), (0.7, 0.72), (1, 1)], (92, 90, 90))
    p.texture(0.74, 7)
    mid, a, s = p.u(0.42, 0.58), p.h / p.w, p.u(0.8, 1.1)
    for dx in (-0.09, 0.09):
        p.line([(mid + dx * a, 0.74), (mid + dx * 5 * a, 1)], (206, 204, 198), 5)
    for dx in (-0.4, -0.12, 0.1, 0.42):
        p.line([(mid + dx * 2.4, 0), (mid + dx * 0.1, 0.5)], INK, 3)
    p.line([(0, 0.12), (mid, 0.22), (1, 0.1)], INK, 2)
    body = p.rng.choice([(182, 62, 44), (58, 106, 86), (220, 178, 76)])
    p.box(mid - 0.17 * s * a, 0.8 - 0.4 * s, 0.34 * s * a, 0.36 * s, body)
    p.box(mid - 0.15 * s * a, 0.8 - 0.36 * s, 0.3 * s * a, 0.14 * s, (44, 54, 66))
    p.box(mid - 0.15 * s * a, 0.8 - 0.36 * s, 0.1 * s * a, 0.14 * s, (120, 140, 150))
    p.box(mid - 0.17 * s * a, 0.8 - 0.19 * s, 0.34 * s * a, 0.03 * s, (238, 228, 204))
    p.line([(mid, 0.8 - 0.4 * s), (mid - 0.04 * a, 0.8 - 0.5 * s), (mid, 0.24)], INK, 4)
    p.glow(mid, 0.8 - 0.1 * s, 0.05, (255, 240, 190), 1)


SUBJECTS: Mapping[str, Callable[[Plate], None]] = MappingProxyType(
    {
        f.__name__: f
        for f in (
            harbour,
            hills,
            street,
            portrait,
            market,
            mist_trees,
            bridge,
            still_life,
            night_sky,
            snow,
            stairs,
            bicycle,
            dog,
            lighthouse,
            tram,
        )
    }
)
