"""What a phone does to a clean linear image: exposure, blur, noise, tone curve, sharpening, JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

# Of phones that smooth their noise.
SMOOTHED_SHARE = 0.6
# Steps of the tone curve's table for each unit of light (a third of a code value where it is steepest), and up to how
# much light it goes: the shoulder is at white there.
TONE_STEPS, TONE_MOST = 8192, 2


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
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    if rng.random() < SMOOTHED_SHARE:
        noise = smoothed(noise)
    x = light if phone.vignette <= 0 else light * vignetting(light.shape[:2], phone.vignette)[..., None]
    return encode(x, phone, noise)


def smoothed(noise: np.ndarray) -> np.ndarray:
    """Smooth noise as phones do."""
    return np.asarray(cv2.GaussianBlur(noise, (0, 0), 0.8)) * np.float32(1.8)


def vignetting(shape: tuple[int, int], strength: float) -> np.ndarray:
    """Share of the light that a lens leaves towards the corners of a picture, (h, w)."""
    h, w = shape
    y, x = np.arange(h, dtype=np.float32)[:, None], np.arange(w, dtype=np.float32)[None]
    r2 = ((x - w / 2) ** 2 + (y - h / 2) ** 2) / np.float32(0.25 * (w * w + h * h))
    return np.asarray(1 - np.float32(strength) * r2)


def encode(light: np.ndarray, phone: Phone, noise: np.ndarray) -> np.ndarray:
    """Turn light (h, w, 3) and noise of sd one into the phone's picture: tone curve, sharpening, JPEG; uint8 sRGB."""
    x = light * np.array(phone.white_balance, np.float32) + np.float32(phone.flare)
    level = np.sqrt(np.maximum(x, 0.0) * np.float32(0.8 / 0.18) + np.float32(0.2))  # shot noise on a floor
    x += np.float32(phone.noise) * level * noise
    y = _tone(phone.contrast)[np.clip(x * TONE_STEPS, 0, TONE_STEPS * TONE_MOST - 1).astype(np.int32)]
    if phone.sharpen > 0:
        y = y + np.float32(phone.sharpen) * (y - cv2.GaussianBlur(y, (0, 0), 1.2))
    image = np.clip(y * 255 + 0.5, 0, 255).astype(np.uint8)
    if phone.jpeg:
        _, data = cv2.imencode(".jpg", image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, phone.jpeg])
        image = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR))[..., ::-1]
    return np.ascontiguousarray(image)


@lru_cache(maxsize=4)
def _tone(contrast: float) -> np.ndarray:
    """Code values 0..1 of light in steps of 1 / `TONE_STEPS`: a soft shoulder, sRGB, an S curve."""
    x = (np.arange(TONE_STEPS * TONE_MOST, dtype=np.float32) + 0.5) / TONE_STEPS
    x = np.where(x > 0.8, 0.8 + 0.2 * np.tanh((x - 0.8) / 0.2), x)
    y = encode_srgb(x)
    return np.asarray(y + contrast * 0.35 * (y - 0.5) * y * (1 - y) * 4, np.float32)


def _motion(x: np.ndarray, smear_px: np.ndarray) -> np.ndarray:
    n = max(3, int(np.ceil(np.hypot(*smear_px))) | 1)
    total = np.zeros_like(x)
    h, w = x.shape[:2]
    for k in np.linspace(-0.5, 0.5, n):
        shift = np.array([[1, 0, k * smear_px[0]], [0, 1, k * smear_px[1]]], np.float32)
        total += cv2.warpAffine(x, shift, (w, h), borderMode=cv2.BORDER_REPLICATE)
    return total / n
