"""Pictures in linear light with exact edges, seen square-on at 10 px per mm."""

import numpy as np
from scipy.special import ndtr

SIZE = (500, 700)
VIEW = np.array([3000.0, 350.0, 250.0, 0, 0, 0, 0, 0, np.pi, 0, 0, 0, 0, 300.0])
BLUR_PX = 1.0


def mm(points_px) -> np.ndarray:
    """(N, 2) px to mm of the sheet."""
    return (np.asarray(points_px, float) - VIEW[1:3]) * [0.1, -0.1]


def grid() -> tuple[np.ndarray, np.ndarray]:
    y, x = np.mgrid[: SIZE[0], : SIZE[1]].astype(float)
    return x, y


def step(distance_px: np.ndarray, inside: float, outside: float) -> np.ndarray:
    """A blurred edge by signed distance, positive outside."""
    return inside + (outside - inside) * ndtr(distance_px / BLUR_PX)


def noisy(light: np.ndarray, sigma: float = 0.004) -> np.ndarray:
    grain = np.random.default_rng(9).normal(0, sigma, light.shape)
    return np.clip(light + grain, 0, 1).astype(np.float32)


def disc(centre_px, radius_px: float, inside: float = 0.15, outside: float = 0.75) -> np.ndarray:
    x, y = grid()
    return step(np.hypot(x - centre_px[0], y - centre_px[1]) - radius_px, inside, outside)
