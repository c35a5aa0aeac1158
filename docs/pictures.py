"""Make the README's pictures from what the program prints: ``python -m docs.pictures``.

``docs/reading.jpg`` is the overlay of a sample photo, ``docs/advice.svg`` the answer of ``strandline advise`` for the
demo's invented bike, ``docs/phone.jpg`` the garage's pages at a phone's size, by Debian's Chromium.
``docs/card-beside-shaft.svg`` is drawn by hand.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import tempfile
import textwrap
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
# The demo counts its rides back from today; a fixed day keeps the picture the same.
DAY = dt.date(2026, 11, 27)
SAMPLE = "upside-down-fork-orange-tie.jpg"
WIDTH_PX = 520
COLUMNS = 92

# Rich's own frame loads a font from elsewhere; this one takes the reader's.
FRAME = """<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, Menlo, Consolas, "DejaVu Sans Mono", monospace;
  font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs><clipPath id="{unique_id}-clip-terminal"><rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/>
</clipPath>{lines}</defs>
<rect fill="#1b1b1b" y="28" width="{width}" height="{height}" rx="8"/>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">{backgrounds}
<g class="{unique_id}-matrix">{matrix}</g></g>
</svg>
"""


def advice_text() -> str:
    """Set the demo's bike up in a folder that goes away, and ask for advice on its rear end."""
    from click.testing import CliRunner

    from strandline.__main__ import cli
    from strandline.demo.samples import find_folder, load_samples
    from strandline.demo.setup import BIKE, GARAGE, set_up

    with tempfile.TemporaryDirectory() as folder:
        by_name = {one.path.name: one for one in load_samples(find_folder(None))}
        for _ in set_up(Path(folder), by_name, DAY):
            pass
        logbook = Path(folder) / GARAGE / "logbook.sqlite"
        asked = ["advise", "--bike", BIKE, "--end", "rear"]
        answer = CliRunner().invoke(cli, [*asked, "--logbook", str(logbook)], catch_exceptions=False).output
    blocks = answer.strip().split("\n\n")
    return f"$ strandline {' '.join(asked)}\n" + "\n\n".join(blocks[:2]) + "\n"


def advice_svg(text: str) -> str:
    """Draw lines of text as a terminal shows them."""
    from rich.console import Console
    from rich.text import Text

    console = Console(record=True, width=COLUMNS, file=io.StringIO(), force_terminal=True)
    for line in _folded(text):
        shown = Text(line)
        if line and not line.startswith((" ", "$")):
            shown.stylize("bold")
        label, colon, _ = line.partition(":")
        if colon and line.startswith("  ") and len(label) < COLUMNS // 4:
            shown.stylize("cyan", 0, len(label) + 1)
        console.print(shown)
    drawn = console.export_svg(code_format=FRAME, unique_id="advice")
    # Rich leaves room above for a window's title; there is none.
    return re.sub(
        r'viewBox="0 0 (\S+) (\S+)"', lambda box: f'viewBox="0 28 {box[1]} {float(box[2]) - 18:g}"', drawn
    )


def _folded(text: str) -> list[str]:
    """Lines short enough for the picture, what is carried over indented."""
    return [
        part
        for line in text.splitlines()
        for part in textwrap.wrap(line, COLUMNS, subsequent_indent="    ") or [""]
    ]


def write_reading(path: Path) -> None:
    """Read a sample photo, and write it with its reading drawn on it, as small as a page needs it."""
    from click.testing import CliRunner
    from PIL import Image

    from strandline.__main__ import cli

    photo = FOLDER.parent / "sample-images" / SAMPLE
    with tempfile.TemporaryDirectory() as folder:
        asked = [
            "read",
            str(photo),
            "--shaft",
            "41.01 mm",
            "--layout",
            "upside-down-fork",
            "--print-scale",
            "1",
        ]
        CliRunner().invoke(cli, [*asked, "--output", folder], catch_exceptions=False)
        (drawn,) = Path(folder).iterdir()
        with Image.open(drawn) as picture:
            small = picture.resize((WIDTH_PX, round(picture.height * WIDTH_PX / picture.width)))
            small.save(path, quality=82, optimize=True)


def write_phone(path: Path) -> None:
    """Open the demo's garage on a phone, take two photos, and write four of its pages side by side."""
    from PIL import Image

    from strandline.demo.samples import find_folder, load_samples
    from strandline.demo.setup import BIKE, FORK_PHOTO, GARAGE, set_up
    from tests.helpers.browser import chromium, phone_of
    from tests.helpers.garage_server import served

    samples = find_folder(None)
    screens = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in set_up(Path(folder), {one.path.name: one for one in load_samples(samples)}, DAY):
            pass
        with served(Path(folder) / GARAGE, as_phone=False) as garage, chromium() as browser:
            page = phone_of(browser).new_page()
            bike = f"{garage.address}/bike/{BIKE}"

            def take(leg: str, photo: str) -> None:
                page.goto(f"{bike}/ride/{leg}")
                page.locator("form.shot input[type=file]").first.set_input_files(samples / photo)
                page.wait_for_url("**/photo/*")

            def screen() -> None:
                screens.append(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))

            page.goto(f"{bike}/ride/front-left")
            screen()
            take("front-left", FORK_PHOTO)
            screen()
            take("front-right", "fork-without-card.jpg")
            screen()
            page.goto(f"{bike}/advice")
            screen()
    width, gap = 300, 12
    small = [one.resize((width, round(one.height * width / one.width))) for one in screens]
    sheet = Image.new("RGB", (len(small) * (width + gap) - gap, small[0].height), "#8d949a")
    for number, one in enumerate(small):
        sheet.paste(one, (number * (width + gap), 0))
    sheet.save(path, quality=82, optimize=True)


def main() -> None:
    """Write the pictures."""
    write_phone(FOLDER / "phone.jpg")
    (FOLDER / "advice.svg").write_text(advice_svg(advice_text()), "utf-8")
    write_reading(FOLDER / "reading.jpg")


if __name__ == "__main__":
    main()
