"""In which manner Chinese characters are drawn: one code stands for forms that differ between countries.

Unicode gives one code to a character of Chinese, Japanese and Korean writing wherever it is the same character (The Unicode
Standard, chapter 18, “Han unification”); which form is wanted must be told from the rest of the text.
"""

import unicodedata

_MANNERS = {"SC": "gb2312", "TC": "big5", "JP": "shift_jis", "KR": "euc_kr"}
"""Simplified and traditional Chinese, Japanese, Korean, each with the codec of the national standard that lists its everyday
characters: GB 2312, Big5, JIS X 0208, KS X 1001."""
_LETTERS = {"HIRAGANA": "JP", "KATAKANA": "JP", "HANGUL": "KR", "BOPOMOFO": "TC"}


def manners(text: str) -> tuple[str, ...]:
    """SC, TC, JP and KR, the likeliest first: by letters that one country alone writes, else by the first standard with all.

    A text that every standard has could be either; it is then taken for simplified Chinese.
    """
    names = [unicodedata.name(char, "").partition(" ")[0] for char in unicodedata.normalize("NFC", text)]
    likely = [manner for manner in dict.fromkeys(_LETTERS.get(name, "") for name in names) if manner]
    han = "".join(char for char in text if unicodedata.name(char, "").startswith("CJK UNIFIED"))
    likely += [manner for manner, codec in _MANNERS.items() if _listed(han, codec)]
    return tuple(dict.fromkeys((*likely, *_MANNERS)))


def _listed(text: str, codec: str) -> bool:
    try:
        text.encode(codec)
    except UnicodeEncodeError:
        return False
    return True
