"""Other words for traits, zones and units, and the words that stand beside frames."""

from __future__ import annotations

TRAIT_SYNONYMS: dict[str, tuple[str, ...]] = {
    "head": ("hd", "hs", "hoop size", "head sq in", "face", "face size", "faces", "racket face", "racquet face"),
    "crosses": ("xs", "x's", "c"),
    "mass": ("wt", "weigh", "weighs", "weighing", "wgt", "m", "static weight", "static mass", "strung weight"),
    "balance": ("bal", "balance point"),
    "swingweight": ("sw", "swing wt", "swing weights", "swing"),
    "main pitch": ("mains spacing", "spacing of the mains", "main string spacing"),
    "cross pitch": ("crosses spacing", "spacing of the crosses", "cross string spacing"),
    "side opening": ("opening at the sides",),
    "beam": ("frame width", "profile"),
    "length": ("len",),
    "openness": ("openess", "opennes"),
}
"""Other words for traits, by their titles."""
ZONE_SYNONYMS: dict[str, tuple[str, ...]] = {
    "centre": ("ctr", "sweet area", "sweet spot", "sweet zone", "core", "mid", "central area", "central zone"),
    "left": ("left-hand side", "left edge"),
    "right": ("right-hand side", "right edge"),
    "sides": (
        "edge",
        "edges",
        "both edges",
        "outer edges",
        "outer parts",
        "outside edges",
        "flanks",
        "flank",
        "outer area",
        "lateral area",
    ),
    "tip": (
        *("upper hoop", "upper part", "upper half", "upper bed", "tip area", "up top", "top of the head", "top of the bed"),
        *(
            "top part",
            "top side",
            "towards the tip",
            "near the tip",
            "top third",
            "upper third",
            "upper side",
            "upper zone",
            "upper area",
            "head tip",
            "upper",
            "top end",
            "top of the hoop",
            "upper end",
            "top half",
        ),
    ),
    "throat": (
        *("near the handle", "by the handle", "towards the handle", "handle end", "bottom", "lower hoop", "lower part"),
        *(
            "throat area",
            "down low",
            "lower third",
            "lower zone",
            "lower side",
            "bottom half",
            "bottom part",
            "towards the throat",
            "near the throat",
            "lower half",
            "close to the handle",
            "lower area",
            "close to the throat",
            "near handle",
            "handle side",
        ),
    ),
}
"""Other words for zones."""
UNIT_SYNONYMS: dict[str, tuple[str, ...]] = {
    "[sin_i]": (
        *("sqin", "sq.in", "sq.in.", "sq. inch", "sq. inches", "inch head", "-inch", "square-inch", "sq ins", "si", "sq inchs"),
        *("inches squared", "inch squared"),
    ),
    "cm2": ("sqcm", "sq. cm", "square cms"),
    "g": ("gramm", "gramms", "gramm.", "gr", "gm", "gms", "gs", "grs"),
    "points": ("pts.", "pt."),
    "/cm2": (
        "per square centimetre",
        "per square centimetres",
        "per square centimeter",
        "per square cm",
        "a square cm",
    ),
    "kg": ("kilo",),
    "kg.cm2": ("kgcm", "swingweight points"),
}
"""Other words for units."""
NOUNS = (
    *("results", "matches", "will do", "would do", "are enough", "is enough", "are plenty", "in total"),
    *("frame", "frames", "racquet", "racquets", "racket", "rackets", "stick", "sticks", "bat", "bats"),
)
GIVING = ("give me", "show me", "list", "name", "pick", "suggest", "find me", "recommend", "tell me", "send me")
"""After these a small number is how many frames are wanted."""
HOLDING = frozenset(
    (
        *("have", "has", "had", "got", "play", "plays", "playing", "played", "use", "uses", "using", "used", "own", "owns"),
        *("with", "broke", "lost", "is", "my", "our", "his", "her", "currently", "old", "swears", "hits", "hit", "hitting"),
        *("on", "loves", "likes"),
    )
)
"""Words that can come before the frame somebody has."""
AGAINST = ("compared to", "compared with", "relative to", "in comparison to", "in comparison with")
"""Between two frames these set one beside the other; after a comparative they are `than`."""
NEAREST_TO = ("closest to", "nearest to", "as close as possible to", "closest match to")
"""Like a frame, and the closest first."""
PRONOUNS = ("it", "that", "this", "mine", "his", "hers", "ours", "this one", "that one", "them", "those")
"""After than, as and like, these stand for the frame named before."""
ASKING = (
    *("how", "why", "what", "what's", "whats", "wats", "wat", "compare", "difference", "differences", "diff", "info"),
    *("information", "specs", "spec", "specifications", "details", "detail", "data", "explain", "define", "definition"),
    *("meaning", "means", "meant", "mean", "computed", "calculated", "decomposition", "comparison", "why's", "differ"),
    *("differs", "worked out", "describe", "summary", "facts", "delta", "how come", "how is it that", "everything about"),
    *("everything on", "everything you've got on", "everything you have on", "everything you know about", "all about"),
    *("side by side", "head to head", "next to each other", "against each other"),
    *("tell me about", "more about", "know about", "rundown", "overview", "profile of", "stats"),
)
"""Words that ask for more than a list of frames."""
