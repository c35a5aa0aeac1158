"""What a phone does to a clean linear image: exposure, blur, noise, tone curve, sharpening, JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Phone:
    """Strengths of the degradations; blurs in the unit of the pixel size given to `develop`."""

    exposure_ev: float = 0.0
    blur: float = 0.0  # sd
    motion: float = 0.0  # length of the smear
    motion_rad: float = 0.0
    noise: float = 0.003  # sd at mid grey, linear
    white_balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    contrast: float = 0.0  # strength of an S curve, 0 to 1
    sharpen: float = 0.0
    vignette: float = 0.0
    flare: float = 0.0  # veiling light
    jpeg: int = 0  # quality; 0: none


def draw_phone(rng: np.random.Generator, exposure_ev: float, px_mm: float = 0.2) -> Phone:
    """Random strengths for a photo of `px_mm` mm a pixel at the shaft; blurs come out in mm."""
    soft = rng.random()
    blur = abs(rng.normal(0, 0.8)) if soft < 0.75 else rng.uniform(0.8, 3.0)  # photo pixels
    motion = 0.0 if rng.random() < 0.7 else rng.uniform(0.5, 6.0)
    dim = max(0.0, -exposure_ev)
    return Phone(
        exposure_ev=exposure_ev,
        blur=blur * px_mm,
        motion=motion * px_mm,
        motion_rad=rng.uniform(0, np.pi),
        noise=10 ** rng.uniform(-3.2, -1.9) * (1 + 0.7 * dim),
        white_balance=tuple(np.exp(rng.normal(0, 0.07, 3))),
        contrast=rng.uniform(0, 0.8),
        sharpen=rng.uniform(0, 1.0) if rng.random() < 0.6 else 0.0,
        vignette=rng.uniform(0, 0.35),
        flare=abs(rng.normal(0, 0.01)),
        jpeg=int(rng.integers(50, 97)),
    )


def encode_srgb(linear: np.ndarray) -> np.ndarray:
    """Linear 0..1 to sRGB 0..1 (IEC 61966-2-1)."""
    x = np.clip(linear, 0.0, 1.0)
    found: np.ndarray = np.where(
        x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-8), 1 / 2.4) - 0.055
    )
    return found


def auto_gain(linear: np.ndarray) -> float:
    """Gain that brings the picture's middle brightness to 0.18, bright spots held back."""
    grey = linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    middle = 0.5 * float(np.median(grey)) + 0.5 * float(np.minimum(grey, 4 * np.median(grey) + 1e-6).mean())
    return 0.18 / max(middle, 1e-4)


def develop(
    linear: np.ndarray,
    phone: Phone,
    rng: np.random.Generator,
    gain: float | None = None,
    px: tuple[float, float] = (1.0, 1.0),
) -> np.ndarray:
    """Turn a linear image (H, W, 3) into uint8 sRGB as a phone would save it.

    `px` is the size of a pixel across and down, in the unit of the phone's blurs.
    """
    return record(reach_sensor(linear, phone, gain, px), phone, rng)


def reach_sensor(
    linear: np.ndarray, phone: Phone, gain: float | None = None, px: tuple[float, float] = (1.0, 1.0)
) -> np.ndarray:
    """Compute the light (H, W, 3) on the sensor: exposed, blurred by the lens and by camera shake."""
    gain = auto_gain(linear) if gain is None else gain
    x = linear.astype(np.float32) * np.float32(gain * 2.0**phone.exposure_ev)
    x = np.minimum(x, 30.0)
    sd_x, sd_y = (max(phone.blur / size, 1e-2) for size in px)
    if max(sd_x, sd_y) > 0.15:
        x = cv2.GaussianBlur(x, (0, 0), sd_x, sigmaY=sd_y)
    smear = phone.motion * np.array([np.cos(phone.motion_rad), np.sin(phone.motion_rad)]) / px
    if np.hypot(*smear) > 0.5:
        x = _motion(x, smear)
    return x


def record(light: np.ndarray, phone: Phone, rng: np.random.Generator) -> np.ndarray:
    """Convert the light (H, W, 3) to the phone's picture: noise, tone curve, sharpening, JPEG; uint8 sRGB."""
    x = light
    h, w = x.shape[:2]
    if phone.vignette > 0:
        yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
        r2 = ((xx - w / 2) ** 2 + (yy - h / 2) ** 2) / (0.25 * (w * w + h * h))
        x = x * (1 - phone.vignette * r2)[..., None]
    x = x * np.array(phone.white_balance, np.float32) + np.float32(phone.flare)
    level = np.sqrt(np.maximum(x, 0.0) / 0.18 * 0.8 + 0.2)  # shot noise on a floor
    noise = rng.standard_normal(x.shape, dtype=np.float32)
    if rng.random() < 0.6:  # phones smooth their noise
        noise = cv2.GaussianBlur(noise, (0, 0), 0.8) * 1.8
    x = x + phone.noise * level * noise
    x = np.where(x > 0.8, 0.8 + 0.2 * np.tanh((x - 0.8) / 0.2), x)  # soft shoulder
    y = encode_srgb(x).astype(np.float32)
    y = y + phone.contrast * 0.35 * (y - 0.5) * y * (1 - y) * 4
    if phone.sharpen > 0:
        y = y + phone.sharpen * (y - cv2.GaussianBlur(y, (0, 0), 1.2))
    image = np.clip(y * 255 + 0.5, 0, 255).astype(np.uint8)
    if phone.jpeg:
        _, data = cv2.imencode(".jpg", image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, phone.jpeg])
        image = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR))[..., ::-1]
    return np.ascontiguousarray(image)


def _motion(x: np.ndarray, smear_px: np.ndarray) -> np.ndarray:
    n = max(3, int(np.ceil(np.hypot(*smear_px))) | 1)
    total = np.zeros_like(x)
    h, w = x.shape[:2]
    for k in np.linspace(-0.5, 0.5, n):
        shift = np.array([[1, 0, k * smear_px[0]], [0, 1, k * smear_px[1]]], np.float32)
        total += cv2.warpAffine(x, shift, (w, h), borderMode=cv2.BORDER_REPLICATE)
    return total / n
