"""Make a figure small enough for docs/: at most 1100 pixels wide, few colours, under 150 kB.

python tools/pictures.py results/hut-pump/figures/margins.png docs/margins.png
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

WIDEST, LARGEST = 1100, 150_000


def shrink(source: Path, target: Path) -> int:
    """Write the picture small; return its size in bytes. Raises ValueError: it stays too large."""
    picture = Image.open(source).convert("RGB")
    if picture.width > WIDEST:
        picture = picture.resize((WIDEST, round(picture.height * WIDEST / picture.width)), Image.Resampling.LANCZOS)
    for colours in (128, 64, 32, 16):
        picture.quantize(colours, dither=Image.Dither.NONE).save(target, optimize=True)
        if target.stat().st_size < LARGEST:
            return target.stat().st_size
    raise ValueError(f"{target}: {target.stat().st_size} bytes are more than {LARGEST}")


if __name__ == "__main__":
    print(shrink(Path(sys.argv[1]), Path(sys.argv[2])), "bytes")
