"""The words of five languages for columns, materials and outer ends: each means one thing."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from stock_lists import HEADINGS, read_cells

from gaugelink.mechanics.materials import OPEN, WHITE, shipped_ends, shipped_materials
from gaugelink.stock.columns import FIELDS
from gaugelink.stock.stock_spring import StockSpring
from gaugelink.stock.words import COLUMN_WORDS, END_WORDS, MATERIAL_WORDS, folded, named_by


@pytest.mark.parametrize("words", [COLUMN_WORDS, MATERIAL_WORDS, END_WORDS])
def test_no_word_means_two_things(words: Mapping[str, str]) -> None:
    told = [folded(word) for name, text in words.items() for word in (name, *text.split(","))]
    assert sorted(told) == sorted(set(told))
    assert all(told)
    assert named_by(words).keys() == set(told)


def test_every_name_is_one_of_ours() -> None:
    assert COLUMN_WORDS.keys() == FIELDS.keys()
    assert MATERIAL_WORDS.keys() <= {WHITE, OPEN} | {m.name for m in shipped_materials()}
    assert END_WORDS.keys() == {end.name for end in shipped_ends()}


@pytest.mark.parametrize(
    ("texts", "name"),
    [
        (
            ("Blue steel", "Blaustahl", "Acier bleui", "acciaio brunito", "acero azulado"),
            "carbon-steel",
        ),
        (
            ("stainless", "EDELSTAHL", "inox", "acciaio inossidabile", "acero inoxidable"),
            "stainless",
        ),
        (
            ("white alloy", "Weiße Legierung", "alliage blanc", "lega bianca", "Aleacion blanca"),
            "white",
        ),
        (("unknown", "unbekannt", "inconnu", "sconosciuto", "desconocido"), "open"),
    ],
)
def test_a_material_is_known_in_each_language(texts: tuple[str, ...], name: str) -> None:
    for text in texts:
        row = read_cells(f"{HEADINGS},Werkstoff", "A1", "1.2", "0.12", "360", text)
        assert isinstance(row, StockSpring), text
        assert row.material == name


@pytest.mark.parametrize(
    ("texts", "name"),
    [
        (("hole", "Loch", "trou", "foro", "agujero"), "hole"),
        (("hook", "Haken", "crochet", "gancio", "gancho"), "hook"),
        (("tongue", "Zunge", "languette", "linguetta", "lengüeta"), "tongue"),
        (("T", "T end", "T-Ende", "bout en T", "estremita a T", "extremo en T"), "t-end"),
        (("brace", "Zaum", "bride", "briglia", "brida"), "brace"),
        (
            ("slipping bridle", "Gleitzaum", "bride glissante", "briglia scorrevole", "automático"),
            "slipping-bridle",
        ),
    ],
)
def test_an_outer_end_is_known_in_each_language(texts: tuple[str, ...], name: str) -> None:
    for text in texts:
        row = read_cells(f"{HEADINGS},Ende", "A1", "1.2", "0.12", "360", text)
        assert isinstance(row, StockSpring), text
        assert row.end == name


@pytest.mark.parametrize("text", ["steels", "velcro", "brass", "hook hole", "acier trempé"])
def test_a_word_that_is_not_known_is_a_fault(text: str) -> None:
    for heading in ("end", "material"):
        row = read_cells(f"{HEADINGS},{heading}", "A1", "1.2", "0.12", "360", text)
        assert isinstance(row, tuple)
        assert f"is called {text!r}" in row[0].fault
