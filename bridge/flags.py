"""What a person should know of one weighing: a closed list, and each said in a sentence."""

from enum import StrEnum


class Flag(StrEnum):
    """What a person should know of one weighing.  A closed list; `FLAG_TEXT` says each in a sentence."""

    NO_TAG = "no-tag"
    TWO_TAGS = "two-tags"
    REPEAT = "repeat"
    TAG_DOUBTFUL = "tag-doubtful"
    TAG_ELSEWHERE = "tag-elsewhere"
    NOT_ANIMAL = "not-animal"
    ODD_CODE = "odd-code"
    BY_PERSON = "by-person"
    VOIDED = "voided"
    INTERRUPTED = "interrupted"
    ON_AT_START = "on-at-start"
    MAYBE_SAME = "maybe-same"
    CROWDED = "crowded"
    CAME_BACK = "came-back"
    SHORT = "short"
    LEANING = "leaning"
    OVERLOAD = "overload"
    FROZEN = "frozen"
    ZERO_MOVED = "zero-moved"
    ZERO_OFF = "zero-off"
    INDICATOR_LOST = "indicator-lost"
    READER_LOST = "reader-lost"
    NOT_EXPECTED = "not-expected"
    ALREADY_WEIGHED = "already-weighed"
    WEIGHT_UNLIKELY = "weight-unlikely"
    WITHHELD = "withheld"
    NOT_GIVEN = "not-given"
    DOSE_DOUBTFUL = "dose-doubtful"
    WHICH_ANIMAL = "which-animal"
    MARKED = "marked"
    PAUSED = "paused"


FLAG_TEXT: dict[Flag, str] = {
    Flag.NO_TAG: "No tag was read for this animal.",
    Flag.TWO_TAGS: "Two or more tags fit this animal and none is clearly ahead.",
    Flag.REPEAT: "This tag was weighed before in the same job; both weighings stand.",
    Flag.TAG_DOUBTFUL: "The tag fits, but the evidence is thin.",
    Flag.TAG_ELSEWHERE: "The only tag heard belongs, by better evidence, to a neighbouring animal.",
    Flag.NOT_ANIMAL: "The tag's code says that it is not an animal's.",
    Flag.ODD_CODE: "The tag's country or manufacturer code is not one that is given out.",
    Flag.BY_PERSON: "A person gave or changed the tag; their word stands.",
    Flag.VOIDED: "Struck out: a person did (a dose in it counts unless they said that it was not given), or it is a "
    "part of a stay that another weighing tells.",
    Flag.INTERRUPTED: "The box stopped while the animal stood there; the weight is what was known by then.",
    Flag.ON_AT_START: "Something stood on the platform when listening began.",
    Flag.MAYBE_SAME: "It may be the animal before it, or the one there as the box stopped, again: nobody could tell.",
    Flag.CROWDED: "More than one animal seems to have stood on the platform.",
    Flag.CAME_BACK: "The animal stepped off and came on again.",
    Flag.SHORT: "The animal did not stay long enough for a good weight.",
    Flag.LEANING: "Parts of the stay disagree, as when an animal leans on something outside the platform.",
    Flag.OVERLOAD: "The indicator reported overload during the stay, or showed more than the station's capacity.",
    Flag.FROZEN: "The indicator repeated one held value for much of the stay.",
    Flag.ZERO_MOVED: "The empty platform showed another weight after the stay than before.",
    Flag.ZERO_OFF: "The empty platform is further from zero than it should be.",
    Flag.INDICATOR_LOST: "The indicator fell silent or was unplugged during the stay.",
    Flag.READER_LOST: "No reader was heard from during the stay.",
    Flag.NOT_EXPECTED: "The tag is not on the roster.",
    Flag.ALREADY_WEIGHED: "The roster's animal was already weighed in this job.",
    Flag.WEIGHT_UNLIKELY: "The weight is further from the animal's last one than it can have grown or lost.",
    Flag.WITHHELD: "The animal is within a withholding period.",
    Flag.NOT_GIVEN: "Not given what the sheet says: as it stood there it was taken for one that had had it, or it "
    "left before its weight was shown.",
    Flag.DOSE_DOUBTFUL: "A dose recorded as given was not on show, or too briefly, or was by a first weight far from "
    "the last.",
    Flag.WHICH_ANIMAL: "Which animal this is could not be told: a question to a person is not answered yet.",
    Flag.MARKED: "Somebody marked this animal, to be looked out for.",
    Flag.PAUSED: "It was recorded while the job was paused, and counts nowhere.",
}
