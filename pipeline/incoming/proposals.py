"""Lines for a sender's headings.yml, as they are to be pasted."""

from __future__ import annotations

from dataclasses import dataclass, field

LONGEST_NAME = 200  # of a heading or word that is proposed; what is longer is a text gone astray


@dataclass
class Proposal:
    """Lines for a headings.yml: section -> table -> what is said of it, as YAML texts."""

    sections: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)

    def add(self, section: str, table: str, name: str, text: str) -> None:
        if len(name) <= LONGEST_NAME:
            self.sections.setdefault(section, {}).setdefault(table, {}).setdefault(name, text)

    def take(self, other: Proposal) -> None:
        for section, tables in other.sections.items():
            for table, entries in tables.items():
                for name, text in entries.items():
                    self.add(section, table, name, text)

    def lines(self) -> list[str]:
        """To be pasted as they are; a line per section, and per table and column where there are many."""
        told = []
        for section in sorted(self.sections):
            tables = self.sections[section]
            if section == "tables":
                told.append(f"tables: {{{', '.join(f'{quoted(name)}: {text}' for name, text in tables[''].items())}}}")
                continue
            told.append(f"{section}:")
            for table, entries in tables.items():
                told.append(f"  {table}: {{{', '.join(f'{quoted(n)}: {text}' for n, text in entries.items())}}}")
        return told


def quoted(text: str) -> str:
    """A text as YAML reads it, in double quotes unless it is a plain word."""
    if (
        text.replace("_", "").replace("-", "").isalnum()
        and text.isascii()
        and not text[0].isdigit()
        and text.lower() not in ("yes", "no", "none", "null", "true", "false", "on", "off", "y", "n")
    ):
        return text
    escaped = (
        text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\r", "\\r").replace("\t", "\\t")
    )
    return f'"{escaped}"'
