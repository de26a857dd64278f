"""What people call the columns, materials and outer ends of a list, in five languages.

The words are plain and the trade's: English, German, French, Italian and Spanish, common practice
or from memory. Capitals, accents, hyphens and a full stop at the end do not matter.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Mapping

_BETWEEN = re.compile(r"[\s_-]+")

# Old lists call the thickness strength or force, and the height of the strip its width.
COLUMN_WORDS: Mapping[str, str] = {
    "item": (
        "ref, reference, item no, item number, no, nr, code, article, part, part no, part "
        "number, sku, Artikel, Artikelnummer, Artikel-Nr, Art-Nr, Nummer, Bestellnummer, "
        "Bezeichnung, n°, numéro, désignation, articolo, codice, riferimento, artículo, código, "
        "referencia"
    ),
    "height": (
        "width, strip height, strip width, Höhe, Hoehe, Breite, Federhöhe, Federbreite, "
        "Klingenhöhe, hauteur, largeur, altezza, larghezza, altura, alto, ancho, anchura"
    ),
    "thickness": (
        "thick, strength, strip thickness, Dicke, Stärke, Staerke, Federdicke, Federstärke, "
        "Klingenstärke, épaisseur, force, spessore, espesor, grosor, grueso"
    ),
    "length": (
        "spring length, strip length, Länge, Laenge, Federlänge, Klingenlänge, longueur, "
        "lunghezza, longitud, largo"
    ),
    "height tolerance": (
        "width tolerance, Höhentoleranz, Breitentoleranz, tolérance hauteur, tolleranza altezza, "
        "tolerancia altura"
    ),
    "thickness tolerance": (
        "strength tolerance, Dickentoleranz, tolérance épaisseur, tolleranza spessore, "
        "tolerancia espesor"
    ),
    "length tolerance": (
        "Längentoleranz, tolérance longueur, tolleranza lunghezza, tolerancia longitud"
    ),
    "end": (
        "end type, outer end, ending, attachment, Ende, Endstück, Außenende, äußeres Ende, "
        "Federende, Befestigung, extrémité, bout, attache, accrochage, estremità, attacco, "
        "aggancio, extremo, extremidad, enganche"
    ),
    "material": (
        "metal, alloy, Werkstoff, Metall, Legierung, matière, matériau, alliage, materiale, "
        "metallo, lega, aleación"
    ),
    "on hand": (
        "qty, quantity, count, stock, in stock, pieces, pcs, Anzahl, Menge, Bestand, "
        "Lagerbestand, Stück, Stueck, Stückzahl, Vorrat, vorhanden, quantité, qté, en stock, "
        "quantità, giacenza, scorta, pezzi, cantidad, existencias, unidades, piezas"
    ),
    "reorder at": (
        "reorder, reorder level, minimum, min, Mindestbestand, Meldebestand, stock minimum, "
        "scorta minima, stock mínimo"
    ),
    "note": (
        "notes, remark, remarks, comment, comments, Bemerkung, Bemerkungen, Notiz, Notizen, "
        "Anmerkung, Kommentar, remarque, remarques, commentaire, nota, osservazioni, commento, "
        "notas, observaciones, comentario, comentarios"
    ),
}
# "Steel" alone is the blued one and "unbreakable" a white alloy: common practice.
MATERIAL_WORDS: Mapping[str, str] = {
    "carbon-steel": (
        "steel, blue steel, blued steel, blue, blued, Stahl, Blaustahl, blauer Stahl, gebläuter "
        "Stahl, Federstahl, Kohlenstoffstahl, blau, gebläut, acier, acier bleui, acier bleu, "
        "acier au carbone, bleu, bleui, acciaio, acciaio blu, acciaio azzurrato, acciaio "
        "brunito, acciaio al carbonio, blu, acero, acero azul, acero azulado, acero pavonado, "
        "acero al carbono, azul"
    ),
    "stainless": (
        "stainless steel, Edelstahl, rostfrei, rostfreier Stahl, inox, acier inox, acier "
        "inoxydable, inoxydable, acciaio inox, acciaio inossidabile, inossidabile, acero inox, "
        "acero inoxidable, inoxidable"
    ),
    "white": (
        "white alloy, white metal, unbreakable, weiß, weiße Legierung, Weißmetall, "
        "unzerbrechlich, blanc, alliage blanc, métal blanc, incassable, bianco, lega bianca, "
        "metallo bianco, infrangibile, blanco, aleación blanca, metal blanco, irrompible"
    ),
    "open": "unknown, not known, unbekannt, inconnu, sconosciuto, desconocido",
}
END_WORDS: Mapping[str, str] = {
    "hole": "hole end, Loch, gelocht, trou, troué, foro, forato, agujero",
    "hook": "hook end, hooked, Haken, crochet, gancio, gancho",
    "tongue": "tongue end, Zunge, languette, linguetta, lengüeta",
    "t-end": "t, T-Ende, T-Stück, T-Haken, bout en T, bout T, estremità a T, extremo en T",
    "brace": (
        "double brace, brace end, Zaum, Federzaum, Doppelzaum, bride, double bride, briglia, "
        "doppia briglia, brida, doble brida"
    ),
    "slipping-bridle": (
        "slipping end, slip bridle, slipping spring, automatic, self-winding, Gleitzaum, "
        "Schleppfeder, Rutschfeder, Gleitfeder, Automatik, bride glissante, ressort glissant, "
        "automatique, briglia scorrevole, briglia slittante, automatico, automatica, brida "
        "deslizante"
    ),
}


@functools.lru_cache(maxsize=8192)
def folded(text: str) -> str:
    """Return what the spellings of one word have in common."""
    parted = unicodedata.normalize("NFD", text.casefold())
    bare = "".join(letter for letter in parted if not unicodedata.combining(letter))
    return _BETWEEN.sub(" ", bare).strip(" .")


def named_by(words: Mapping[str, str]) -> Mapping[str, str]:
    """Return the name that each folded word means, a name itself among them."""
    told = {folded(each): name for name, text in words.items() for each in text.split(",")}
    told.pop("", None)
    return told | {folded(name): name for name in words}
