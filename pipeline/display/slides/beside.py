"""The words that go with a figure wherever it is shown, as a plain text beside its files."""

from __future__ import annotations

from pathlib import Path

CAUTIONS = (
    "This sums up research plots. It is not a recommendation for your field. Follow your nutrient management plan, the "
    "product label, and federal, state and local rules. Ask a certified crop adviser or your county extension office."
)


def write_words(file: Path, *, title: str, caption: str, alt: str, source: str, provisional: str) -> None:
    """Writes title, caption, alternative text, source and cautions, a paragraph each.

    A byte order mark begins the file: browsers and editors then read it as UTF-8 wherever it comes from.
    """
    cautions = f"Provisional: {provisional} {CAUTIONS}" if provisional else CAUTIONS
    told = {
        "Title": title,
        "Caption": caption,
        "Alternative text": alt,
        "Source": source.removeprefix("Provisional. ").removeprefix("Source: "),
        "Cautions": cautions,
        "Files": f"{file.stem}.svg, {file.stem}.png",
    }
    text = "\n\n".join(f"{what}: {words}" for what, words in told.items())
    file.write_text(f"{text}\n", encoding="utf-8-sig")
