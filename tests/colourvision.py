"""How colours look in greyscale and to people with colour blindness, and how far apart two of them are."""

from __future__ import annotations

import numpy as np

# G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0. From memory, and the
# same in copies of others; applied to linear RGB, which is common practice.
MATRICES = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}

# IEC 61966-2-1, linear sRGB to CIE XYZ under D65 (from memory).
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
VIEWS = ("as drawn", *MATRICES, "greyscale")


def linear(colour: str) -> np.ndarray:
    """Return a colour as linear RGB."""
    channels = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255.0
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def seen(colour: str, view: str) -> np.ndarray:
    """Return a colour in CIE L*a*b* as one of `VIEWS` shows it."""
    light = linear(colour)
    if view in MATRICES:
        light = np.clip(np.array(MATRICES[view]) @ light, 0.0, 1.0)
    if view == "greyscale":
        light = np.full(3, XYZ[1] @ light)
    return lab(light)


def lab(light: np.ndarray) -> np.ndarray:
    """Return linear RGB as CIE L*a*b* with white at D65 (CIE 15)."""
    shares = (XYZ @ light) / XYZ.sum(axis=1)
    root = np.where(shares > (6 / 29) ** 3, np.cbrt(shares), shares / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116.0 * root[1] - 16.0, 500.0 * (root[0] - root[1]), 200.0 * (root[1] - root[2])])


def distance(one: str, other: str, view: str = "as drawn") -> float:
    """Return the CIE 1976 difference of two colours as a view shows them."""
    return float(np.linalg.norm(seen(one, view) - seen(other, view)))


def lightness_step(one: str, other: str, view: str) -> float:
    """Return how far the lightness of two colours is apart as a view shows them, of 100."""
    return abs(float(seen(one, view)[0] - seen(other, view)[0]))


def difference(one: np.ndarray, other: np.ndarray) -> float:
    """Return the CIEDE2000 difference of two colours in CIE L*a*b*, the parametric factors 1.

    G. Sharma, W. Wu and E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes, supplementary test
    data, and mathematical observations", Color Research and Application 30 (2005), equations 2 to 22; from memory.
    """
    mean = (np.hypot(*one[1:]) + np.hypot(*other[1:])) / 2.0
    stretch = 1.5 - 0.5 * np.sqrt(mean**7 / (mean**7 + 25.0**7))
    (chroma_1, hue_1), (chroma_2, hue_2) = (
        (np.hypot(stretch * a, b), np.degrees(np.arctan2(b, stretch * a)) % 360.0) for _, a, b in (one, other)
    )
    grey = chroma_1 * chroma_2 == 0.0
    turn = 0.0 if grey else (hue_2 - hue_1 + 180.0) % 360.0 - 180.0
    if not grey and hue_2 - hue_1 == 180.0:
        turn = 180.0
    if grey:
        hue = hue_1 + hue_2
    elif abs(hue_1 - hue_2) <= 180.0:
        hue = (hue_1 + hue_2) / 2.0
    else:
        hue = (hue_1 + hue_2 + (360.0 if hue_1 + hue_2 < 360.0 else -360.0)) / 2.0
    light, chroma = (one[0] + other[0]) / 2.0, (chroma_1 + chroma_2) / 2.0
    angles = np.radians([hue - 30.0, 2.0 * hue, 3.0 * hue + 6.0, 4.0 * hue - 63.0])
    weight = 1.0 + np.cos(angles) @ [-0.17, 0.24, 0.32, -0.20]
    by_light = 1.0 + 0.015 * (light - 50.0) ** 2 / np.sqrt(20.0 + (light - 50.0) ** 2)
    of_light = (other[0] - one[0]) / by_light
    of_chroma = (chroma_2 - chroma_1) / (1.0 + 0.045 * chroma)
    of_hue = 2.0 * np.sqrt(chroma_1 * chroma_2) * np.sin(np.radians(turn / 2.0)) / (1.0 + 0.015 * chroma * weight)
    swing = np.radians(60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2)))
    rotation = -np.sin(swing) * 2.0 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    return float(np.sqrt(of_light**2 + of_chroma**2 + of_hue**2 + rotation * of_chroma * of_hue))


def difference_seen(one: str, other: str, view: str = "as drawn") -> float:
    """Return the CIEDE2000 difference of two colours as a view shows them."""
    return difference(seen(one, view), seen(other, view))
