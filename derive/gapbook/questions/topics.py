"""What people ask for and a catalogue of string beds cannot know: each with what is missing and what comes nearest."""

from __future__ import annotations

from typing import NamedTuple


class Topic(NamedTuple):
    """Something the catalogue has no figure for.

    words: the words and phrases that ask for it.
    missing: what is missing, in a sentence.
    nearest: what comes nearest, in a sentence that names what to type.
    """

    words: tuple[str, ...]
    missing: str
    nearest: str


TOPICS: dict[str, Topic] = {
    "price": Topic(
        (
            *("price", "prices", "priced", "cost", "costs", "cheap", "cheaper", "cheapest", "expensive", "inexpensive", "euro"),
            *("euros", "usd", "dollar", "dollars", "eur", "gbp", "€", "$", "£", "budget", "afford", "affordable", "discount"),
            *("how much is", "how much are", "how much for", "value for money", "sale", "on sale", "money"),
        ),
        "Prices are not in the catalogue",
        "Nothing comes near; ask a shop, with a list from gapbook ask",
    ),
    "stock": Topic(
        ("stock", "in stock", "available", "availability", "delivery", "second hand", "secondhand", "used market"),
        "What a shop has in stock is not in the catalogue",
        "Nothing comes near; ask a shop, with a list from gapbook ask",
    ),
    "shop": Topic(
        ("buy", "buying", "purchase", "shop", "shops", "store", "retailer", "where to buy", "where can i buy"),
        "Where a frame is sold is not in the catalogue",
        "Nothing comes near; ask a shop, with a list from gapbook ask",
    ),
    "colour": Topic(
        (
            *("colour", "color", "colours", "colors", "red", "blue", "black", "white", "green", "yellow", "orange", "pink"),
            *("purple", "grey", "gray", "paint", "paintjob", "paint job", "looks", "good looking", "pretty", "cosmetics"),
        ),
        "Colours are not in the catalogue",
        "Nothing comes near; the maker's pages show them",
    ),
    "spin": Topic(
        (
            "spin",
            "topspin",
            "backspin",
            "slice",
            "kick",
            "rpm",
            "launch",
            "launch angle",
            "spin rate",
            "spinny",
            "spin friendly",
        ),
        "How much spin a frame gives you is not in the catalogue",
        "gapbook relate openness_centre spin_rpm tells how spin went with openness in playtests; for one bed: "
        "gapbook advise FRAME",
    ),
    "power": Topic(
        (
            *(
                "power",
                "powerful",
                "pop",
                "ball speed",
                "speed",
                "pace",
                "powerless",
                "low-powered",
                "fast",
                "faster",
                "fastest",
            ),
            *("hits hard", "hit harder", "trampoline"),
        ),
        "Power is not in the catalogue",
        "gapbook relate openness_centre ball_speed_kmh tells how ball speed went with openness in playtests; heavier, or a "
        "higher swingweight, can be asked for",
    ),
    "control": Topic(
        ("control", "controlled", "precision", "precise", "accuracy", "accurate", "accurately", "consistency"),
        "Control is not in the catalogue",
        "gapbook relate openness_centre control_vs_own tells what testers said of it; for one bed: gapbook advise FRAME",
    ),
    "comfort": Topic(
        (
            *("comfort", "comfortable", "comfy", "arm", "arm-friendly", "arm friendly", "armfriendly", "elbow", "tennis elbow"),
            *("wrist", "shoulder", "pain", "painful", "hurts", "injury", "vibration", "vibrations", "shock", "dampening"),
            *("easy on the arm", "kind to the arm", "sore"),
        ),
        "Comfort, and what an arm can bear, are not in the catalogue",
        "gapbook advise FRAME --arm sore says what a bed may change, with cautions; a softer bed can be asked for. With pain, "
        "see a physician",
    ),
    "sound": Topic(
        ("sound", "sounds", "sounding", "muted", "noise", "ping"),
        "How a frame sounds is not in the catalogue",
        "The stiffness of the bed comes nearest: ask for a softer bed or a stiffer bed than a frame you know",
    ),
    "feel": Topic(
        ("feel", "plush", "plushest", "plusher", "crisp", "crisper", "touch", "response", "responsive"),
        "How a frame feels is not in the catalogue",
        "The stiffness of the bed comes nearest: ask for a softer bed or a stiffer bed than a frame you know",
    ),
    "frame stiffness": Topic(
        (
            *(
                "flex",
                "flexible",
                "flexy",
                "ra",
                "flex rating",
                "stiffness rating",
                "frame stiffness",
                "stiff frame",
                "stiff frames",
            ),
            *("stiffer frame", "softer frame", "flexier", "stiffness of the frame", "ra rating"),
        ),
        "The stiffness of frames is not in the catalogue",
        "That of the string bed is: ask for a softer bed or a stiffer bed than a frame you know",
    ),
    "level": Topic(
        (
            *(
                "beginner",
                "beginners",
                "intermediate",
                "advanced",
                "novice",
                "junior",
                "juniors",
                "pro",
                "pros",
                "professional",
            ),
            *("year old", "years old", "year-old", "level", "skill", "skills", "beginner friendly", "expert", "ntrp", "utr"),
            *("for kids", "for children", "for a child", "forgiving", "easy to play", "for seniors", "improver", "improvers"),
        ),
        "Who a frame is for is not in the catalogue: it has figures, not levels of play",
        "Ask by mass, swingweight and head size, or for beds near one that the player knows: like FRAME, lighter than FRAME",
    ),
    "durability": Topic(
        (
            *(
                "durable",
                "durability",
                "break strings",
                "breaks strings",
                "string breakage",
                "breakage",
                "last longer",
                "lasts",
            ),
            *(
                "last longest",
                "last the longest",
                "most durable",
                "strings break",
                "string life",
                "wear",
                "crack",
                "cracks",
                "sturdy",
                "break",
            ),
        ),
        "How long frames and strings last is not in the catalogue",
        "Openness comes nearest: strings move more, and wear sooner, in an open bed (common practice, no source). "
        "Ask: tightest first",
    ),
    "tension": Topic(
        ("tension", "tensions", "kilos", "how tight to string"),
        "Which tension suits you is not in the catalogue",
        "gapbook retension FROM TO --at 24kg gives the pull at which one bed is as stiff as another",
    ),
    "grip": Topic(
        ("grip", "grips", "grip size", "handle size", "overgrip"),
        "Grips are not in the catalogue",
        "Nothing comes near; the maker's pages name the sizes",
    ),
    "rating": Topic(
        ("rating", "ratings", "rated", "review", "reviews", "top rated", "user rating", "stars", "score from users"),
        "What others say of a frame is not in the catalogue: it has figures",
        "Playtests come nearest: gapbook relate openness_centre control_vs_own",
    ),
    "best": Topic(
        (
            *("best", "better", "most good", "the most good", "favourite", "favorite", "popular", "most popular"),
            *("worst", "worse", "coolest", "must have"),
        ),
        "Which frame is best is not in the catalogue: it has figures, and what suits is yours to say",
        "Ask for what you want more or less of: tighter than FRAME, lighter than FRAME; for one bed: gapbook advise FRAME",
    ),
}
"""Topics in the order in which they are named if a question has words of several."""
