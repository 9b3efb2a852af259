"""Outlines of the letters for the plots' PNG; run by hand, in this folder: python make_glyphs.py FONT.ttf BOLD.ttf

Writes ../../src/report/plots/glyphs.txt. Needs fonttools. Made from DejaVu Sans Condensed 2.37, whose licence (Bitstream
Vera's, with DejaVu's changes in the public domain) allows use and change under another name. Deterministic.
"""
import sys
from pathlib import Path

from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

LETTERS = [chr(c) for c in range(0x20, 0x7F)] + list("±−°…×–’“”·µ→²³äöüÄÖÜßéèêàçñåøæ½") + ["\ufffd"]
EM = 500


class Flat(BasePen):
    """Straight pieces in whole units of 1/EM of the letter's height, y downward."""

    def __init__(self, glyphs, scale):
        super().__init__(glyphs)
        self.scale, self.contours = scale, []

    def _put(self, p):
        q = (round(p[0] * self.scale), round(-p[1] * self.scale))
        if not self.contours[-1] or self.contours[-1][-1] != q:
            self.contours[-1].append(q)

    def _moveTo(self, p):
        self.contours.append([])
        self._put(p)

    def _lineTo(self, p):
        self._put(p)

    def _qCurveToOne(self, c, p):
        a = self._getCurrentPoint()
        for n in range(1, 5):
            t = n / 4
            self._put(tuple((1 - t) ** 2 * a[i] + 2 * t * (1 - t) * c[i] + t * t * p[i] for i in (0, 1)))

    def _closePath(self):
        pass


def lines(path, weight):
    font = TTFont(path)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    scale = EM / font["head"].unitsPerEm
    for letter in LETTERS:
        name = names.get(ord(letter))
        if name is None:
            sys.exit(f"{path} has no {letter!r}")
        pen = Flat(glyphs, scale)
        glyphs[name].draw(pen)
        outline = ";".join(" ".join(f"{x},{y}" for x, y in c) for c in pen.contours if len(c) > 2)
        yield f"{weight} {ord(letter):x} {round(glyphs[name].width * scale)} {outline}".rstrip()


HEAD = """Outlines of letters: weight, code point (hex), advance, contours, in 1/500 of the letter's height, y downward.
Made by tests/golden/make_glyphs.py from DejaVu Sans Condensed 2.37. Its notices (the name table's 0 and 13):

"""
names = TTFont(sys.argv[1])["name"]
notices = HEAD + names.getDebugName(0) + "\n\n" + names.getDebugName(13)
head = "".join(f"# {line}".rstrip() + "\n" for line in notices.replace("\r", "").splitlines())
out = Path(__file__).parent / "../../src/report/plots/glyphs.txt"
out.write_text(head + "\n".join([*lines(sys.argv[1], "r"), *lines(sys.argv[2], "b")]) + "\n", encoding="utf-8")
