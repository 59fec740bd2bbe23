"""The words of the cues: several ways to say each thing, warm, plain and short.

Braces are filled in: `name` of a technique, `side` (", on their left" or nothing), `hand`
("left" or "right"), `where` ("on the shoulders"), `firmly` (how firmly, in lay words), `turned`
("turn onto their back"), `firmer` and `easier` (how firmly, after a step up or down). Left and
right are the receiver's. All common practice, no source;
consent and the stop word: see `rondel.model.safety`.
"""

from __future__ import annotations

from rondel.cues.language import Bank, Banks, Levels, Words
from rondel.model.words import PRESSURE_SAYS, Language

LANGUAGE = Language.ENGLISH
#: Fitted to the bundled voice; see `rondel.cues.pace`.
SECONDS_A_CHARACTER = 0.0825

#: What follows a name, by side; and what stands for `hand`.
SIDES: Words = {"left": ", on their left", "right": ", on their right", "both": ", on both sides"}
HANDS: Words = {"left": "left", "right": "right", "both": "both", "centre": "centre"}
OWN_WAY = "your own way"

# ------------------------------------------------------------------ welcome and farewell
WELCOME: Bank = (
    "Welcome. Ask first if they would like this, and agree on a word that stops everything.",
    "Welcome, you two. Before any touch, ask, and agree on a word that stops everything.",
    "Welcome. Begin with a question: is this a good time? Then agree on a word that stops it.",
    "Welcome. Ask first, and agree on a stop word.",
    "Ask first, and agree on a stop word.",
)
WARM_HANDS: Bank = (
    "Rub your palms together until they are warm.",
    "Warm your hands, and let your shoulders drop.",
    "Warm your hands first.",
)
#: How the receiver lies or sits at the beginning.
LYING: Banks = {
    "prone": (
        "Let them lie face down, warm and covered, with the head at ease.",
        "They lie face down, well covered.",
        "They lie face down.",
    ),
    "supine": (
        "Let them lie face up, warm and covered, with something soft under the knees.",
        "They lie face up, well covered.",
        "They lie face up.",
    ),
    "side": (
        "Let them lie on their side, with something soft under the head and between the knees.",
        "They lie on their side, well covered.",
        "They lie on their side.",
    ),
    "seated": (
        "Let them sit, leaning on something soft, with the feet on the ground.",
        "They sit, leaning on something soft.",
        "They sit.",
    ),
}
BEGIN: Bank = (
    "Begin with {name}{side}.",
    "We begin with {name}{side}.",
    "Begin now: {name}{side}.",
)
NO_BEAT_YET: Bank = (
    "There is no beat yet. Find a slow tempo of your own.",
    "The music has no beat yet, so move as slowly as feels natural.",
    "Take your own time now. The beat comes later.",
)
CLOSE: Bank = (
    "And so to the end, with {name}{side}.",
    "We come to the close: {name}{side}.",
    "Slowly towards the end now: {name}{side}.",
)
LAST: Bank = (
    "The last passage now: {name}{side}.",
    "One last time, slowly: {name}{side}.",
    "And to finish, {name}{side}.",
)
FAREWELL: Bank = (
    "Let your hands come to rest, and lift them away slowly. Rest a while, both of you, and rise "
    "slowly.",
    "Finish when it feels finished, and lift your hands away slowly. There is no hurry to rise.",
    "When you are ready, let your hands grow still, and take them away softly. Rise slowly, later.",
    "Let your hands grow still, then lift them away. Rise slowly.",
    "Grow still, and let go. Rise slowly.",
)
#: To wake, by how the receiver ends: who sits may stand up, who lies sits up first.
FAREWELL_WAKE: Banks = {
    "seated": (
        "Let your hands grow still, and lift them away. Then let them stand up, slowly.",
        "Lift your hands away slowly. When they are ready, help them to stand, without hurry.",
        "Let go slowly. Then let them stand up, slowly.",
    ),
    "lying": (
        "Let your hands grow still, and lift them away. Help them sit up, slowly, and then stand.",
        "Lift your hands away slowly. When they are ready, they sit up first, and stand later.",
        "Let go slowly. They sit up first, and stand later.",
    ),
}
#: Towards sleep these are the last words, early in the last passage; then nobody speaks.
FAREWELL_SLEEP: Bank = (
    "I will say no more. Go on as long as you like, then lift your hands away without a sound.",
    "From here there are no more words. Grow slower and slower, and let sleep come.",
    "No more words now. Nobody needs to get up. Good night.",
    "No more words now. Good night.",
)
#: After a first slip nothing is said; this is for the second. Said once.
SLIP: Bank = (
    "If you lose the thread, carry on. If it happens again, come back to {name}.",
    "Lost? Just carry on. If it happens again, come back here, to {name}.",
    "A slip is no matter, so carry on. After a second one, come back to {name}.",
    "Whenever you are lost, come back to {name}.",
)

# ------------------------------------------------------------------ what comes next
NEXT_SHORT: Bank = (
    "Next: {name}{side}.",
    "Now {name}{side}.",
)
NEXT: Bank = (
    *NEXT_SHORT,
    "And now {name}{side}.",
    "Next comes {name}{side}.",
    "From here, {name}{side}.",
    "Go on to {name}{side}.",
    "Let your hands move on to {name}{side}.",
    "Coming next, {name}{side}.",
)
NEXT_WHERE: Bank = (
    "Now {where}: {name}{side}.",
    "Next, {where}: {name}{side}.",
    "Let your hands travel. {name}, {where}{side}.",
    "And now, {where}: {name}{side}.",
    "Now let your hands arrive {where}: {name}{side}.",
)
#: Before deep work the place is always named.
DEEP_WHERE: Bank = (
    "Now {where}: {name}{side}.",
    "Next, {where}: {name}{side}.",
    "And now, {where}: {name}{side}.",
    "Now take your time {where}: {name}{side}.",
    "Let your hands settle {where}: {name}{side}.",
)
AGAIN: Bank = (
    "{name} once more{side}.",
    "Back to {name}{side}.",
    "You know this one: {name}{side}.",
    "Here it is again: {name}{side}.",
    "Once again, {name}{side}.",
    "Let {name} come back{side}.",
)
OTHER_SIDE: Bank = (
    "The same on their {hand}.",
    "Now their {hand} side, just the same.",
    "{name} again, on their {hand}.",
    "Cross over, and do the same on their {hand}.",
    "Their {hand} side next, exactly alike.",
    "Now give their {hand} the same: {name}.",
    "Over to their {hand}, with {name}.",
    "The same on their {hand}: {name}.",
    "And the other side: {name}, on their {hand}.",
    "Change sides. {name}, on their {hand}.",
    "Now {name} for their {hand} side.",
    "Let their {hand} have {name} too.",
)
STAY: Bank = (
    "Stay with {name}{side}.",
    "Keep on with {name}{side}.",
    "Go on just like this: {name}{side}.",
    "Stay here, with {name}{side}.",
)
ON_TOP: Bank = (
    "And lightly on top, {name}.",
    "With the other hand, lightly, {name}.",
    "Slow below, and {name} on top.",
)

# ------------------------------------------------------------------ the refrain
HOME_FIRST: Bank = (
    "This is home, the place you will come back to: {name}.",
    "Now meet your refrain, the strokes that bring you home: {name}.",
    "Here is home, and it will return: {name}.",
    "Remember this one, it is home: {name}.",
)
HOME: Bank = (
    "And home again: {name}.",
    "Come home to {name}.",
    "Now back home, to {name}.",
    "Home again, just as before: {name}.",
    "Let the music bring you home: {name}.",
    "Here comes home: {name}.",
    "Return to {name}, as you know it.",
    "You know the way home: {name}.",
    "All of this leads home: {name}.",
    "Home once more, with {name}.",
    "The refrain is coming back: {name}.",
    "Gather it all, and come home: {name}.",
    "And again, home: {name}.",
    "Lead them home, with {name}.",
    "Time to come home: {name}.",
    "Slowly home now: {name}.",
    "Turn for home: {name}.",
    "Let it all flow back to {name}.",
    "And the refrain: {name}.",
    "Hear it coming? Home, to {name}.",
    "Nothing new now. Only {name}.",
    "Let your hands find {name} again.",
)
REFRAIN_NEXT: Bank = (
    "And then {name}{side}.",
    "Flow into {name}{side}.",
    "Let it become {name}{side}.",
    "Then, as always, {name}{side}.",
    "And so into {name}{side}.",
    "It turns into {name}{side}.",
    "Now {name} follows{side}.",
    "Ease into {name}{side}.",
    "And, as before, {name}{side}.",
    "Let {name} follow{side}.",
)
REFRAIN_HOLD: Bank = (
    "And rest there: {name}.",
    "Let it come to rest in {name}.",
    "Then stay a while: {name}.",
    "And gather them in: {name}.",
    "Then be still together: {name}.",
    "Now simply stay: {name}.",
    "And let go into {name}.",
    "Let the hands settle: {name}.",
    "And breathe there: {name}.",
)

# ------------------------------------------------------------------ how firmly
FIRMER: Bank = (
    "A little firmer now, {firmer}.",
    "Firmer this time, {firmer}.",
    "Let the pressure grow, {firmer}.",
    "Give it a little more, {firmer}.",
    "Let it be firmer, {firmer}.",
    "One step firmer, {firmer}.",
)
#: Only from the pressure on at which weight is felt.
WEIGHTIER: Bank = (
    "Sink a little further, {firmer}.",
    "More weight now, {firmer}.",
    "Let your weight come, {firmer}.",
)
#: How far it goes where pressure grows to 1 to 5; the same five levels as `PRESSURE_SAYS`.
FIRMER_TO: Levels = {
    1: "though still as light as over sunburn",
    2: "as if you rubbed lotion in",
    3: "until you meet the muscle",
    4: "until you are leaning in",
    5: "deep and slow, with your body weight",
}
LIGHTER: Bank = (
    "Lighter now: {firmly}.",
    "Softer now, {firmly}.",
    "Let the pressure melt: {firmly}.",
    "Go easier: {firmly}.",
    "Much softer, {firmly}.",
    "Take the weight away: {firmly}.",
    "Let it be easy, {firmly}.",
    "Less is enough now: {firmly}.",
)
#: Where it grows lighter and is still firm.
EASIER: Bank = (
    "A little lighter now, {easier}.",
    "Ease off a little, {easier}.",
    "A step lighter, {easier}.",
    "Take a little weight away, {easier}.",
)
EASIER_TO: Levels = {
    3: "just enough to meet the muscle",
    4: "still leaning in",
    5: "still deep",
}
STILL: Bank = (
    "No pressure at all, still and weightless.",
    "Let your hands simply lie there.",
    "Nothing moves, nothing presses.",
    "Just the warmth of your hands.",
    "Hands quiet, without any weight.",
    "Let them feel how still you are.",
)
FIRMLY: Levels = PRESSURE_SAYS

# ------------------------------------------------------------------ special passages
DEEP: Bank = (
    "Lean in slowly, and ask how it feels.",
    "Sink in as they breathe out, and ask if it is good.",
    "Take your time going in. Ask: more, or less?",
    "Let your weight arrive slowly, and listen to their answer.",
    "Go in slowly, come out slowly, and ask on the way.",
    "Slowly in, and stay only if it feels good to them.",
    "Wait for the muscle to let you in, and ask how that is.",
    "Lean from your feet, slowly, and ask if this is right.",
)
REST: Bank = (
    "Now soften: {name}{side}.",
    "Let it rest, with {name}{side}.",
    "Answer that with {name}{side}.",
    "Smooth it all out: {name}{side}.",
    "Calm the place with {name}{side}.",
    "Let that sink in, with {name}{side}.",
    "Rest now, with {name}{side}.",
    "Quiet the skin again: {name}{side}.",
    "Now something kind: {name}{side}.",
    "Let it fade, with {name}{side}.",
)
STRETCH: Bank = (
    "Next comes a harder one, {name}{side}. Skip it without regret, and stay with what you know.",
    "If you feel bold: {name}{side}. If not, skip it without regret.",
    "Now one to grow into: {name}{side}. You may leave it out, and lose nothing.",
    "{name}{side}, only if you like. Skipping it is fine.",
    "{name}{side}, or skip it.",
)
#: The same for deep work, which names its place.
STRETCH_WHERE: Bank = (
    "Next comes a harder one, {where}: {name}{side}. Skip it without regret, if you like.",
    "If you feel bold, {where}: {name}{side}. If not, skip it without regret.",
    "{where}, only if you like: {name}{side}. Or skip it.",
)
STRETCH_OTHER: Bank = (
    "The same on their {hand}, or skip it again.",
    "On their {hand} too, if you did the first.",
    "And their {hand}, if you feel like it.",
)
OPEN: Bank = (
    "The next part is yours. Do what the two of you like best.",
    "Now this is yours. No instructions, only your own hands.",
    "What comes now belongs to you. Play, or simply hold each other.",
    "Now I will be quiet, and this part is yours.",
    "This is yours.",
)
TURN: Bank = (
    "Now help them {turned}. There is no hurry.",
    "Let them {turned}, and help with both hands.",
    "Time to {turned}. Keep them warm and covered, and go slowly.",
    "Slowly now, help them {turned}.",
    "Help them {turned}.",
)
TURNED: Words = {
    "prone": "turn onto their front",
    "supine": "turn onto their back",
    "side": "turn onto their side",
    "seated": "sit up",
}
#: For those who were sitting.
LAID_DOWN: Words = {
    "prone": "lie down on their front",
    "supine": "lie down on their back",
    "side": "lie down on their side",
    "seated": "sit up",
}
BEAT_COMES: Bank = (
    "There is a beat now. Let it carry your hands.",
    "Hear the beat? Let your strokes meet it.",
    "The music has found its beat. Let it lead.",
)

# ------------------------------------------------------------------ in the middle of a passage
BREATHE: Bank = (
    "Breathe out, and let your shoulders drop.",
    "Breathe in together, and out together.",
    "A long breath out, for both of you.",
    "Let your breath be slower than your hands.",
    "Breathe all the way down to your feet.",
    "Listen for their breath, and slow down with it.",
    "Breathe in as you move away, and out as you come back.",
    "One slow breath, all the way out.",
    "Let the next breath out be the longest.",
    "Keep your own breath slow and low.",
    "Notice where their breath moves.",
    "Breathe as if you had all evening.",
    "Let your breath and theirs meet.",
    "Breathe in through the nose, and sigh it out.",
    "Wait for the end of a breath, and go on from there.",
)
BREATHE_HOLD: Bank = (
    "Feel them breathe under your hands.",
    "Nothing to do here but be warm.",
    "Stay for one more breath.",
    "Let them feel that you are in no hurry.",
    "Nothing but warmth, and time.",
    "Be as quiet as you can, and feel.",
)
OWN_BODY: Bank = (
    "Soften your own jaw and neck.",
    "Let your weight do the work, not your fingers.",
    "Check your own back. Long and easy?",
    "Bend your knees, and let your arms hang loose.",
    "Rock a little as you go. It saves your hands.",
    "Let your wrists stay straight and easy.",
    "Sit or stand so that you could stay for an hour.",
    "Shift your feet, if that is kinder to your back.",
    "If your hands tire, do less. Less is still plenty.",
)
ATTEND: Bank = (
    "Slower than you think.",
    "Let the whole hand stay in touch.",
    "Let your eyes close for a stroke or two.",
    "Feel for the warmth coming back to you.",
    "Keep one hand on them, always.",
    "Let each stroke finish before the next begins.",
    "Imagine you have never felt this place before.",
    "Notice what changes under your hands.",
    "Let the skin tell you how fast to go.",
    "Do it as if it were the only stroke.",
    "Small is fine. Slow is fine.",
)
ASK: Bank = (
    "Ask: more, less, or just like this?",
    "Ask softly, is this good?",
    "Watch how they breathe. Does it look easy?",
    "A word from them is enough: lighter, or stay.",
    "If anything feels wrong, go lighter at once.",
    "Ask once, then listen with your hands.",
)
PRAISE: Bank = (
    "Lovely. Just like that.",
    "You are doing well, both of you.",
    "That is beautiful. Keep going.",
    "Yes, like this.",
    "Good. Nothing more is needed.",
    "That is already enough.",
)
ON_THE_BEAT: Bank = (
    "Let each hand meet the beat.",
    "Hand after hand, like slow walking.",
    "Loose wrists, and let the music do the counting.",
    "Let the rhythm rock you both.",
    "Stay with the beat, and stay light.",
)

#: Where hands go, as words after "now". Regions that are not named here are left unsaid.
WHERE: Words = {
    "scalp": "on the scalp",
    "head": "on the head",
    "face": "on the face",
    "neck": "at the back of the neck",
    "shoulders": "on the shoulders",
    "between_blades": "between the shoulder blades",
    "blades": "over the shoulder blades",
    "beside_spine": "beside the spine",
    "lower_back": "on the lower back",
    "sacrum": "low on the back, over the sacrum",
    "hips": "on the hips",
    "upper_arms": "on the upper arms",
    "forearms": "on the forearms",
    "hands": "on the hands",
    "thighs": "on the thighs",
    "calves": "on the calves",
    "feet": "on the feet",
    "back": "over the whole back",
    "chest": "high on the chest",
    "belly": "on the belly",
}
