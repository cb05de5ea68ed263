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
_TALK = """
actually afternoon afterwards ago ah aha alas album alright along already although altogether always amazing and/or anyhow
anyway anyways apparently appreciate appreciated appreciates around arrive arrived asap aside awesome aye babe basic
basically became because become becomes becoming been before believe believes best-known beyond bloke bothered boss bought
bring bringing brings bro bruh btw bunch bye cool come'on course cuz daily date day days dealing decent deep definitely
despite dude dunno during easy either's else's enjoy enjoyed enjoying enjoys enough equal equally especially essentially
eventually ever everybody everyone evening evenings exactly example examples excellent explain excuse expect expected fairly
fancy fancied fantastic favour favor feel feels feeling felt fellow fellows fella final finally fine folks folk for-sure
forward frankly friday friendly fun further fussy game games generally gent gentleman gentlemen genuinely glad gladly gonna
good gotta grateful greetings group guess guessing guy guys ha haha handle-wise hang happen happens happy heard hear
hence here's hers herself hiya himself hit hits hitting hmmm honest honestly honour hopefully hour hours humbly i'mma idea
ideas idk imo imho include included includes including indeed instance instead inquire enquire inquiring enquiring inquiry
enquiry job join keen kinda kindly kit knew known lad lads lady ladies largely last lately learn learned
learning least-ish let's life lil literally lol loud lovely luck mainly man many match matches matched mates matter matters
maybe meanwhile men mention mentioned mentioning merely mine's mind minded minute minutes moar-ish monday month months
more-or-less morning mostly mr mrs ms myself naturally near-enough necessarily need-to neighbour neighbor nephew niece night
 nothing-else nowadays obv obviously occasionally often omg ones' opinion opinions opponent original originally
otherwise ought ourselves owner owning owned pal pals particular particularly people perfectly person personally
piece pieces plan planning plans play-test pleasant pleased pleasure plenty point-out pray preferably presently
presumably pretty-much previous previously probably properly provided provide provides purely put quick
quickly quiet quietly rather-than ready realise realize reading really reason reasonable reasonably reasons received
recently recommendation recreational regarding regards regularly relatively respectively result-wise right reckon reckons
roger round rule run running sake same-ish sat saturday saw say's season seasons second-thought see seeing seen sensible
sentence serious seriously session sessions set sets setting several share shared sharing shortlist shortlisted since-when
sincerely sit sits situation smth sth sometime sometimes somehow somewhat somewhere soon sorry sort-of speak speaking
spoke spec'd specific specifically stand standing state stated still story straight stringer stringers
stringer's student's stuff sub-set subset successful suggestion sunday suppose supposed surely swear
swears swore sweet ta table take taken takes taking talk talking talked team tbh teach teaches teaching teacher tend tends
tennis test tested tester testers testing thankful thats theirs themselves theres therefore they'd they'll they've
thinkin' thought thoughts throughout-ish thursday thus tie time times title to-day today's tomorrow ton tonight took
tournament tournaments toward towards tricky truly trust truth tuesday turn turned turns tweak twin understand understood
unsure useful usual-ish usually various verdict version via visit wait waiting walk wanting way-too wednesday week
weekend weekends weeks welcome well-known went whatever whatnot whats-up whenever whereas wherever whichever whilst
whoever whole whom why-not willing woman women wonderful wondering won word words work worked working works world worry
wow write writes writing written wrote yeah year years yep yer yesterday yo y'all ya yourself yourselves yup youth
combine combines combining rank ranks ranked ranking sort sorted sorting arrange arranged ordered
tall gets-on keen-on obsessed forever ball balls court courts lesson lessons league club-mate teammate teammates squad
squads academy class-mate captain opponent's rival uncle aunt cousin grandson granddaughter grandma grandad grandfather
grandmother fiancé fiancée fiance gf bf bff missus lass girls boys kids ladies' men's women's customer's client's clients
customer's partners partner's friends friend's mate's cust custs doubles singles tonight's regular rep owner's guest guests
bloke's chap chaps fellow's coach's coaches daughter's son's wife's husband's pupil's stock-take counter walk-in
"""
WORDS = frozenset(" ".join((_SMALL, _WANTING, _PEOPLE, _ROUND, _TALK)).split())
"""Single words that change nothing. Some have another meaning beside certain words; `vocabulary` says which."""
PEOPLE = frozenset(_PEOPLE.split())
"""Words for who plays."""
PHRASES = (
    *("at the same tension", "at equal tension", "at the same string tension", "at one tension"),
    *(
        "of face",
        "of the face",
        "of the head",
        "on the face",
        "swears by",
        "swear by",
        "not too fussy",
        "not fussy",
        "reviewed",
    ),
    *(
        "don't care",
        "don't mind",
        "doesn't matter",
        "not bothered",
        "not sure",
        "no problem",
        "no worries",
        "no matter",
        "down",
    ),
    *(
        "don't know",
        "i don't know",
        "why not",
        "of those",
        "of them",
        "of these",
        "two of",
        "one of",
        "some of",
        "help me out",
        "by a lot",
        "by far",
        "by much",
    ),
    *("me out", "out on", "out at", "out in", "out to", "out there", "mind you", "no idea", "no clue", "not picky"),
    *(
        "what i mean is",
        "what i mean",
        "in mind",
        "for instance",
        "for example",
        "no rush",
        "no offence",
        "not really",
        "y'know",
    ),
    *(
        "you know what",
        "tell you what",
        "to be honest",
        "as long as",
        "so long as",
        "itself",
        "all right",
        "right then",
        "i.e.",
        "e.g.",
        "i.e",
        "e.g",
        "so right",
    ),
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
