"""What the header of a column of contents says: which element, in which unit, by which method."""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from typing import NamedTuple

from gradekit.core.aliases import Label
from gradekit.core.elements import is_element, symbols
from gradekit.core.numbers import plain_signs
from gradekit.heats.certificates.units import REFUSED, bare, unit_factor


class Header(NamedTuple):
    """What the header of a column says of a content.

    Attributes: the element, '' where it begins with none; the factor to wt%; a remark in words;
    whether a unit stands there; whether only a part of the element is meant, such as soluble
    aluminium; what behind the element was not understood, so that it is the header of no content.
    """

    element: str = ""
    factor: float = 1.0
    remark: str = ""
    stated: bool = False
    part: bool = False
    rest: str = ""


_NO_CONTENT = Header()
# Names in German, French, Italian, Spanish, Swedish, Polish, Portuguese, Japanese (romanised),
# Dutch, Finnish, Czech and Turkish; the English ones are those of the periodic table. Without
# accents, each in one language or more.
_WORDS = """
C kohlenstoff carbone carbonio carbono kol wegiel tanso koolstof hiili uhlik karbon
Si silizium silicium silicio kisel krzem keiso pii kremik silisyum
Mn mangan manganese manganeso manganes mangaan mangaani
P phosphor phosphore fosforo fosfor rin fosfori
S sulphur schwefel soufre zolfo azufre svavel siarka enxofre iou zwavel rikki síra kukurt
Cr chrom chrome cromo krom kuromu chroom kromi
Ni niquel nikiel nikkeru nichel nikkel nikkeli nikl nikel
Mo molybdan molybdaen molybdene molibdeno molybden molibden molibdenio moribuden molybdeen
Mo molybdeeni
N stickstoff azote azoto nitrogeno kvave azot nitrogenio chisso stikstof typpi dusik
Cu kupfer cuivre rame cobre koppar miedz dou koper kupari měď bakır
Nb niob niobio columbium niobu niobi niyobyum
Ti titan titane titanio tytan chitan titaan titaani titanyum
Al aluminum aluminium alluminio aluminio glin aruminiumu aruminium alumiini hlinik aluminyum
V vanadin vanadio wanad banajiumu vanadiini vanad vanadyum
W wolfram tungstene tungsteno wolframio volframio volfram tungstenio tangusuten volframi
Co kobalt cobalto kobolt kobaruto kobaltti koboltti kobaltum
B bor bore boro houso hoso boori boor
Sn zinn etain stagno estano tenn cyna estanho suzu tina cín kalay
As arsen arsenico arsenik arsenio hiso arseeni arseen
Pb blei plomb piombo plomo bly olow chumbo namari lood lyijy olovo kursun
Ca kalzium calcio wapn kalcium karushiumu kalsium kalsiumi vapnik kalsiyum
Ce cer cerio cerium seryum
O sauerstoff oxygene ossigeno oxigeno syre tlen oxigenio sanso zuurstof happi kyslik oksijen
H wasserstoff hydrogene idrogeno hidrogeno vate wodor hidrogenio suiso waterstof vety vodik hidrojen
Ta tantal tantale tantalio tantalo tantaru tantaali
Zr zirkonium zirconio cyrkon jirukoniumu zirkoon zirkonyum zirkoni
Sb antimon antimoine antimonio antymon antimoon antimoni
Bi wismut bismut bismuto vismut bisumasu vismutti bizmut
Mg magnesio magnez magnesiumi horcik
Fe eisen fer ferro hierro jarn zelazo tetsu ijzer rauta zelezo demir
Zn zink zinco cynk aen sinkki cinko
Te tellur tellure tellurio
Se selen selenio seleeni
La lanthan lantanio lantaani
"""
_TOTAL = frozenset("tot total totale totalt totaal ges gesamt t calk kok celk toplam".split())
_PART = frozenset("sol soluble loslich aslosl asol acidsol acidsoluble saureloslich".split())
#: How it was measured, and words that add nothing.
_METHOD = frozenset(
    "leco oes foes xrf rfa icp icpoes icpms icpaes cs onh on spark gas gds aes combustion "
    "in content gehalt teneur contenido tenore halt analysis analyse pitoisuus obsah result value "
    "wert ist actual found avg average mean mittel mw ladle heat".split()
)
_LEAD = re.compile(
    r"(?:wt\.?\s*-?|gew\.?\s*-?|mass?e?\s*-?)?%\s*(?=[^\W\d\[])"
    # fields of a data base, such as CHEM_CR
    r"|(?:chem|analy[sz]e|analysis|anal?|elem(?:ent)?|el|val(?:ue)?|result|res|conc|comp)[ .:]+"
    r"(?=[A-Z][A-Za-z]?(?![a-z]))"
    r"|(?:mass fraction of|massenanteil(?: an)?|gehalt(?: an)?|content of|teneur en|contenido de"
    r"|tenore di)\s+",
    re.I,
)
_IN_BRACKETS = re.compile(r"(?:[wc]\s*\(\s*([^()\s]+)\s*\)|[\[(]([A-Z][a-z]?)[\])])(.*)")
#: Marks of a note below the table.
_FOOTNOTE = re.compile(r"(?:\s*(?:[*†‡§⁽⁾]|(?<![\d⁻⁰¹²³⁴-⁹])[⁰¹²³⁴-⁹]+|\s\(?\d\)|\s\([a-h]\)))+$")
_FIRST = re.compile(r"([^\W\d_]+)(.*)", re.S)
_GLUED = re.compile(r"([A-Z][a-z]?)(tot|total|ges|gesamt|sol)|(?:Al|AL)(?P<al>[tsTS])")
_PIECES = re.compile(r"\[[^\]]*\]?|\((?:[^()]|\([^()]*\))*\)?|[^\s\[(]+")
_LONGEST = 60
_OXIDE = re.compile(
    r"(?:SiO2|CaO|MgO|MnO|FeO|NiO|Li2O|Na2O|K2O|BaO|ZnO|PbO|TiO2|ZrO2|MoO[23]|WO3|P2O5|V2O[35]"
    r"|Nb2O5|Ta2O5|(?:Al|Fe|Cr|Mn|Ce|La|B)2O3|Fe3O4)(?![A-Za-z\d])"
)


def folded(text: str) -> str:
    """Return a word in small letters without accents, for looking it up.

    Examples
    --------
    >>> folded("Kväve"), folded("Węgiel"), folded("Molybdän")
    ('kvave', 'wegiel', 'molybdan')
    """
    plain = text.casefold().translate({0x142: "l", 0xF8: "o"})
    return "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))


@cache
def _names() -> dict[str, str]:
    import periodictable

    known = {e.name: e.symbol for e in periodictable.elements if e.symbol in symbols()}
    for line in _WORDS.split("\n"):
        symbol, *words = line.split() or [""]
        known |= dict.fromkeys(words, symbol)
    return known


def is_oxide(header: Label) -> bool:
    """Tell whether a column holds an oxide, as the analysis of a slag does."""
    return isinstance(header, str) and bool(_OXIDE.match(header.strip()))


def column_element(header: Label) -> Header | None:
    """Read the header of a column; None if it names no content.

    Examples
    --------
    >>> column_element("N [ppm]").factor, column_element("CR").element, column_element("grade")
    (0.0001, 'Cr', None)
    >>> column_element("Chrom Gew.-%").element, column_element("S-CS").element
    ('Cr', 'S')
    """
    named = heading(header) if isinstance(header, str) else _NO_CONTENT
    return named if named.element and not named.rest else None


@lru_cache(8192)
def heading(header: str) -> Header:
    """Read a header, and say what of it was not understood.

    Examples
    --------
    >>> heading("Cr [xyz]").element, heading("Cr [xyz]").rest
    ('Cr', '[xyz]')
    """
    if len(header) > _LONGEST:
        return _NO_CONTENT
    name = _FOOTNOTE.sub("", re.sub(r"[\s_]+", " ", plain_signs(header)).strip())
    stated = False
    if lead := _LEAD.match(name):
        stated, name = "%" in lead[0], name[lead.end() :]
    if within := _IN_BRACKETS.fullmatch(name):
        name = f"{within[1] or within[2]} {within[3]}"
    first = _FIRST.fullmatch(name)
    if not first:
        return _NO_CONTENT
    element, rest, remarks, part = _element(first[1]), first[2], [], False
    if first[1].lower() in ("cb", "columbium"):
        element, remarks = "Nb", ["columbium is niobium"]
    if element == "Nb" and (tantalum := re.match(r"\s*\+\s*ta\b", rest, re.I)):
        rest, remarks = rest[tantalum.end() :], ["the sum is taken as niobium"]
    elif not element and (glued := _GLUED.fullmatch(first[1])):
        if glued["al"]:
            element, rest = "Al", f" {'sol' if glued['al'] in 'sS' else 'tot'}{rest}"
        elif is_element(glued[1]):
            element, rest = glued[1], f" {glued[2]}{rest}"
    if not element:
        return _NO_CONTENT
    # Without a unit or a method 'N2' is as likely the name of a heat.
    gas = element in "HNO" and rest[:1] == "2" and not rest[1:2].isdigit()
    pieces = _PIECES.findall(rest[1:] if gas else rest)
    factor, method, units = 1.0, False, []
    while pieces:
        pieces[0] = pieces[0] if unit_factor(pieces[0]) else pieces[0].strip(" ,;:|/-–.")
        if not pieces[0]:
            pieces.pop(0)
            continue
        for count in range(min(len(pieces), 6), 0, -1):
            if unit := unit_factor(" ".join(pieces[:count])):
                factor = float(f"{factor * unit[0]:.12g}")
                units += [unit[1]] if unit[1] else []
                stated, pieces = True, pieces[count:]
                break
        else:
            word = folded(bare(pieces[0]))
            if word in _PART:
                part, remarks = True, [*remarks, "the soluble part is taken for the whole"]
            elif word not in _TOTAL | _METHOD and _element(pieces[0].strip("()[]")) != element:
                return Header(element, rest=" ".join(pieces))
            method, pieces = True, pieces[1:]
    if gas and not (stated or method):
        return _NO_CONTENT
    return Header(element, factor, "; ".join([*remarks, *reversed(units)]), stated, part)


def _element(word: str) -> str:
    """Return the symbol that a word means, or ''."""
    if is_element(word):
        return word
    if word.isupper() and len(word) <= 2 and is_element(word.title()):
        return word.title()
    if len(word) < 3:
        return ""
    # Some are only theirs with the accent: 'síra' is sulphur, 'sira' a row.
    return _names().get(folded(word)) or _names().get(word.casefold(), "")


def refused_unit(rest: str) -> str:
    """Return what must stand in place of a unit that is known and is none of a content, or ''."""
    return REFUSED.get(bare(rest), "")
