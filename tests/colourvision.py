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
