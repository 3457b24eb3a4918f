"""A published model of negative film: photographs become the negatives that a scan of them would show.

The curve, its toe and its straight line are those of the reference film in the Academy Density Exchange Encoding
(SMPTE ST 2065-3): eleven points of log exposure against density, and from density 0.6 up a straight line of slope
0.55, with 18 % grey at 0.7. The same encoding's matrix tells how much of each dye the other two channels see.
The numbers are from memory. The encoding has no shoulder: it is added here as a smooth limit (own choice). Red, green
and blue slopes are spread apart around the reference (own choice), which the encoding's aren't.
The bases are the D-min of a colour negative and of a clear black-and-white one, with their sources beside them.
"""

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Three = tuple[float, float, float]

POINTS = (
    (-0.19, -6.0),
    (0.01, -2.721718645),
    (0.028, -2.521718645),
    (0.054, -2.321718645),
    (0.095, -2.121718645),
    (0.145, -1.921718645),
    (0.22, -1.721718645),
    (0.3, -1.521718645),
    (0.4, -1.321718645),
    (0.5, -1.121718645),
    (0.6, -0.926545676714876),
)
"""Density above the base, and log10 of the exposure that makes it, 0 being the light of a perfect white."""
REFERENCE_SLOPE = 0.55
GREY_18_D = 0.7
SEEN = np.array([[0.75573, 0.22197, 0.02230], [0.05901, 0.96928, -0.02829], [0.16134, 0.07406, 0.76460]])
"""From what the channels see to what the dyes hold; each row sums to 1, so a grey stays a grey."""

BASES: dict[str, Three] = {
    "masked": (0.25, 0.58, 0.70),  # D-min red, green, blue of a colour negative, from a published research note
    "clear": (0.22, 0.22, 0.23),  # common practice for black-and-white, no published source
}
SHOULDER_D = 2.4
"""The densest the film gets above its base; a perfect white lies at 1.1, well below (own choice)."""


def light_of(picture: NDArray[np.uint8]) -> Floats:
    """Linear light of an 8-bit sRGB photograph, as IEC 61966-2-1 decodes it; by hand, not by the code under test."""
    table = [v / 255 / 12.92 if v / 255 <= 0.04045 else math.pow((v / 255 + 0.055) / 1.055, 2.4) for v in range(256)]
    return np.asarray(table)[picture]


def density_above_base(light: Floats, slope: float = REFERENCE_SLOPE) -> Floats:
    """The curve of the film: toe, straight line, shoulder; never below the base."""
    log_light = np.log10(np.maximum(light, 1e-7))
    on_the_toe = np.interp(log_light, [log for _, log in POINTS], [d for d, _ in POINTS])
    straight = GREY_18_D + REFERENCE_SLOPE * (log_light - math.log10(0.18))
    plain = np.where(log_light > POINTS[-1][1], straight, on_the_toe)
    wanted = np.maximum(plain, 0.0) * (slope / REFERENCE_SLOPE)
    # Close to the straight line up to three quarters of the limit, then bending over (a soft minimum).
    return np.asarray(wanted * (1 + (wanted / SHOULDER_D) ** 8) ** (-1 / 8))


def negative_of(
    picture: NDArray[np.uint8],
    base: Three = BASES["masked"],
    slopes: Three = (0.53, 0.55, 0.57),
    stops: float = 0.0,
    rebate: int = 0,
    noise_d: float = 0.006,
    dyes: bool = False,
    bits: int = 8,
    seed: int = 7,
) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """The scan of the negative that this photograph would leave on film, height × width × 3, coded in sRGB.

    `stops` is exposure, `rebate` the pixels of bare base around it, `noise_d` grain as a standard deviation of density,
    `dyes` whether the channels see each other's dyes. A grey photograph gives three equal pictures on one base.
    """
    light = light_of(picture)
    if light.ndim == 2:
        light = np.repeat(light[..., None], 3, axis=2)
    above = np.stack([density_above_base(light[..., n] * 2**stops, slope) for n, slope in enumerate(slopes)], axis=-1)
    if dyes:
        above = np.maximum(0.0, above @ np.linalg.inv(SEEN).T)
    if rebate:
        above = np.pad(above, ((rebate, rebate), (rebate, rebate), (0, 0)))
    above += np.random.default_rng(seed).normal(0.0, noise_d, above.shape)
    return scan_of(10 ** -(above + np.asarray(base)), bits)


def strip_of(frames: list[NDArray[np.uint8]], gap: int, base: Three, **how: float) -> NDArray[np.uint8]:
    """Frames of one height side by side with bare film between them and along the edges, as one scan of 8 bits."""
    bare = np.zeros((frames[0].shape[0], gap, 3), dtype=np.uint8)
    parts: list[NDArray[np.uint8]] = [bare]
    for frame in frames:
        parts += [frame, bare]
    whole = np.pad(np.concatenate(parts, axis=1), ((gap, gap), (0, 0), (0, 0)))
    return np.asarray(negative_of(whole, base, **how), dtype=np.uint8)  # type: ignore[arg-type]


def scan_of(transmittance: Floats, bits: int = 8) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """A scan against clear light, coded in sRGB."""
    light = np.clip(transmittance, 0.0, 1.0)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(coded * (2**bits - 1)).astype(np.uint8 if bits == 8 else np.uint16)
