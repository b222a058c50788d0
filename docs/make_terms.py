"""Write docs/terms.md from the glossary in the code.  python docs/make_terms.py"""

from pathlib import Path

from bedtide.tables import terms

HEAD = """# Terms

Every quantity of a result: its name in a file or a Dataset, its unit there, what it means. Made
from `sim/bedtide/data/terms.csv` by `docs/make_terms.py`; do not edit.

Depths of water are per plan area of the bed: 1 mm is 1 litre on each square metre. States hold at
the end of the day, fluxes for the whole day and positive in the direction that the name says.
Where a CF standard name exists it stands behind the meaning.

| name | unit | symbol | meaning |
|---|---|---|---|
"""


def page() -> str:
    """Text of docs/terms.md."""
    rows = []
    for term in terms().values():
        standard = f" CF: `{term['standard_name']}`." if term["standard_name"] else ""
        symbol = f"*{term['symbol']}*" if term["symbol"] else ""
        rows.append(
            f"| `{term['name']}` | {term['unit'] or 'date'} | {symbol} | "
            f"{term['long_name'][0].upper()}{term['long_name'][1:]}. {term['sentence']}{standard} |"
        )
    return HEAD + "\n".join(rows) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("terms.md").write_text(page(), encoding="utf-8", newline="\n")
