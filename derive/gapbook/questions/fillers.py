"""Words that change nothing in a question: politeness, who asks, and what holds a sentence together.

A word that might leave something out, turn it round or name what is compared is not here: a question with such a word is
refused, not guessed at.
"""

from __future__ import annotations

_SMALL = """
a an the this these those there here it its i me my mine we us our ours you your yours he him his she her hers they them their
who which what that whose where when while if as so then too also even still again already now yet just really quite rather
very much such some any all every each one ones thing things something anything everything sort kind type of in on at to for
from with by into onto up among amongst per is are was were be been being am do does did done have has had having
can could may might must shall should will would let get got gets getting give gives ve ll re
it's that's what's which's i'm i've i'd i'll we're we've we'd you've you'd he's he'd she's she'd they're they'd there's
who's how's where's let's got've would've
maybe perhaps possibly please pls plz thanks thank thx cheers hi hello hey dear sir madam ok okay well oh um uh hmm yes u ur w
me's only simply basically ideally exact strictly overall generally total currently current present moment today usually
normally slightly somewhat clearly noticeably considerably significantly
substantially markedly far way distinctly definitely certainly surely
"""
_WANTING = """
want wants wanted wanting wanna need needs needed needing likes liked love loves prefer prefers preferred wish wishes hope hopes
hoping look looks looked looking search searching searches seek seeking seeks find finding finds hunt hunting show shows showing
list lists listing display see tell suggest suggests suggested suggestion suggestions recommend recommends recommended
recommendation recommendations propose advise know think thinks thinking wonder wondering ask asking asked try trying tries
tried consider considering going go goes gone come comes switch switching switched move moving change changing upgrade
upgrading
replace replacing replacement pick picking choose choosing chosen after interested curious help helps say said says told call
called named offer offers exist exists stay stays keep keeps keeping remain remains feels felt seem seems seemed play plays
playing played use uses used using own owns owned broke broken lost returned somebody someone anybody anyone weigh weighs
weighing fit fits suit suits start starts starting filter filtered query question result results answer answers option options
choice choices alternative alternatives candidate candidates model models return returns demo
"""
_PEOPLE = """
son daughter wife husband kid child boy girl friend mate buddy student students pupil pupils partner client customer customers
coach trainer dad mum mom father mother brother sister member members player players
"""
_ROUND = """
bit little tad ideal nice nicely great perfect however though although because part area areas region zone zones place section
number numbers count counts value values figure figures size sized sizes range ranges class category group setup reference ref
against etc eg ie loaner loaners loan coming outgrew rack string strings strung stringing entry entries items item order else
"""
WORDS = frozenset(" ".join((_SMALL, _WANTING, _PEOPLE, _ROUND)).split())
"""Single words that change nothing. Some have another meaning beside certain words; `vocabulary` says which."""
PEOPLE = frozenset(_PEOPLE.split())
"""Words for who plays."""
PHRASES = (
    *("not only", "not just", "how many", "want to buy", "wants to buy", "want buy", "like to buy", "looking to buy"),
    *("=", "(", ")", "∈", "'s", "'", "w/", "|diff|"),
    *("in the", "on the", "in a", "that of the", "that of a", "that of", "those of", "the ones", "ones that"),
    *("i like", "i'd like", "i would like", "we would like", "we'd like", "would like", "should like", "he'd like"),
    *("she'd like", "they'd like", "would you like", "do you like", "looks like", "new one", "new ones", "old one"),
    *("do you have", "have you got", "is there", "are there", "what about", "how about", "looking for", "searching for"),
    *("at the moment", "right now", "these days", "as well", "as the reference", "as reference", "as a reference"),
    *("as my reference", "a lot", "tell me", "tell me about", "at all", "if possible", "in weight", "in size", "to be"),
    *("in your catalogue", "in the catalogue", "going to", "go to", "when it comes to", "in terms of", "by the way"),
    *(
        "are after",
        "am after",
        "i'm after",
        "we're after",
        "be after",
        "is after",
        "he's after",
        "she's after",
        "a few",
        "a touch",
        "a fraction",
        "a shade",
        "a smidge",
        "quite a bit",
        "a fair bit",
    ),
    *("kind of", "sort of", "type of", "come with", "comes with", "play with", "plays with", "playing with"),
)
"""Signs and phrases that change nothing."""
