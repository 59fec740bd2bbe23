"""The words of the cues in German, as a teacher says them to a couple: du and ihr.

The same banks as in `rondel.cues.phrases`, line for line with the same braces. Names stand after
a colon or alone, so that they need no ending. The receiver is "dein Gegenüber", which fits a
woman and a man; "linke Seite" and "rechte Seite" are the receiver's. All common practice, no
source; consent and the stop word: see `rondel.model.safety`.
"""

from __future__ import annotations

from rondel.cues.language import Bank, Banks, Levels, Words
from rondel.model.words import Language

LANGUAGE = Language.GERMAN
#: There is no German voice to measure. German is read aloud at 5.97 syllables a second where
#: English has 6.19 (Pellegrino, Coupé and Marsico 2011, Language 87; from memory), so a
#: letter is given that much more time than in English.
SECONDS_A_CHARACTER = 0.086

SIDES: Words = {
    "left": ", linke Seite",
    "right": ", rechte Seite",
    "both": ", beide Seiten",
}
#: With an "n" after it where a case asks for one: "auf der {hand}n Seite".
HANDS: Words = {"left": "linke", "right": "rechte", "both": "beide", "centre": "mittlere"}
OWN_WAY = "was euch guttut"

# ------------------------------------------------------------------ welcome and farewell
WELCOME: Bank = (
    "Willkommen. Frag zuerst, ob das jetzt guttut, und vereinbart ein Wort, das alles anhält.",
    "Willkommen, ihr zwei. Frag vor jeder Berührung, und vereinbart ein Wort, das alles anhält.",
    "Willkommen. Beginn mit einer Frage: Passt es gerade? Vereinbart dann ein Stoppwort.",
    "Willkommen. Frag zuerst, und vereinbart ein Stoppwort.",
    "Frag zuerst, und vereinbart ein Stoppwort.",
)
WARM_HANDS: Bank = (
    "Reib deine Handflächen aneinander, bis sie warm sind.",
    "Wärm deine Hände, und lass die Schultern sinken.",
    "Wärm zuerst deine Hände.",
)
LYING: Banks = {
    "prone": (
        "Dein Gegenüber liegt auf dem Bauch, warm und zugedeckt, der Kopf ruht bequem.",
        "Dein Gegenüber liegt auf dem Bauch, gut zugedeckt.",
        "Dein Gegenüber liegt auf dem Bauch.",
    ),
    "supine": (
        "Dein Gegenüber liegt auf dem Rücken, warm und zugedeckt, etwas Weiches unter den Knien.",
        "Dein Gegenüber liegt auf dem Rücken, gut zugedeckt.",
        "Dein Gegenüber liegt auf dem Rücken.",
    ),
    "side": (
        "Dein Gegenüber liegt auf der Seite, etwas Weiches unter dem Kopf und zwischen den Knien.",
        "Dein Gegenüber liegt auf der Seite, gut zugedeckt.",
        "Dein Gegenüber liegt auf der Seite.",
    ),
    "seated": (
        "Dein Gegenüber sitzt, weich angelehnt, die Füße am Boden.",
        "Dein Gegenüber sitzt, weich angelehnt.",
        "Dein Gegenüber sitzt.",
    ),
}
BEGIN: Bank = (
    "Beginn so: {name}{side}.",
    "Wir beginnen: {name}{side}.",
    "Und nun der Anfang: {name}{side}.",
)
NO_BEAT_YET: Bank = (
    "Noch ist kein Takt zu hören. Finde dein eigenes, langsames Tempo.",
    "Die Musik hat noch keinen Takt, also beweg dich so langsam, wie es sich gut anfühlt.",
    "Nimm dir jetzt deine eigene Zeit. Der Takt kommt später.",
)
CLOSE: Bank = (
    "Und so geht es dem Ende zu: {name}{side}.",
    "Wir kommen zum Abschluss: {name}{side}.",
    "Jetzt langsam zum Ende hin: {name}{side}.",
)
LAST: Bank = (
    "Jetzt noch das Letzte: {name}{side}.",
    "Ein letztes Mal, ganz langsam: {name}{side}.",
    "Und zum Schluss: {name}{side}.",
)
FAREWELL: Bank = (
    "Lass deine Hände zur Ruhe kommen, und heb sie langsam ab. Ruht euch beide aus, und steht "
    "langsam auf.",
    "Hör auf, wenn es sich fertig anfühlt, und heb die Hände langsam ab. Mit dem Aufstehen eilt "
    "es nicht.",
    "Wenn du so weit bist, lass die Hände still werden, und nimm sie sanft weg. Steht später "
    "langsam auf.",
    "Lass die Hände still werden, dann heb sie ab. Steht langsam auf.",
    "Werde still, und lass los. Steht langsam auf.",
)
FAREWELL_WAKE: Banks = {
    "seated": (
        "Lass die Hände still werden, und heb sie ab. Dann langsam aufstehen.",
        "Heb die Hände langsam ab. Wenn es so weit ist, hilf beim Aufstehen, ohne Eile.",
        "Lass langsam los. Dann in Ruhe aufstehen.",
    ),
    "lying": (
        "Lass die Hände still werden, und heb sie ab. Hilf langsam beim Aufsetzen, dann beim "
        "Aufstehen.",
        "Heb die Hände langsam ab. Wenn es so weit ist, erst aufsetzen und später aufstehen.",
        "Lass langsam los. Erst aufsetzen, später aufstehen.",
    ),
}
FAREWELL_SLEEP: Bank = (
    "Ich sage nichts mehr. Mach weiter, solange du magst, dann heb lautlos die Hände ab.",
    "Von hier an keine Worte mehr. Werde immer langsamer, und lass den Schlaf kommen.",
    "Jetzt keine Worte mehr. Niemand muss aufstehen. Gute Nacht.",
    "Jetzt keine Worte mehr. Gute Nacht.",
)
SLIP: Bank = (
    "Wenn du den Faden verlierst, mach weiter. Passiert es wieder, komm hierher zurück: {name}.",
    "Verirrt? Mach einfach weiter. Passiert es noch einmal, ist dein Platz hier: {name}.",
    "Ein Fehler macht nichts, also mach weiter. Nach dem zweiten komm zurück zum Anker: {name}.",
    "Wenn du nicht weiterweißt, komm hierher: {name}.",
)

# ------------------------------------------------------------------ what comes next
NEXT_SHORT: Bank = (
    "Als Nächstes: {name}{side}.",
    "Jetzt: {name}{side}.",
)
NEXT: Bank = (
    *NEXT_SHORT,
    "Und jetzt: {name}{side}.",
    "Als Nächstes kommt: {name}{side}.",
    "Von hier aus: {name}{side}.",
    "Geh nun weiter: {name}{side}.",
    "Lass deine Hände weiterziehen: {name}{side}.",
    "Gleich kommt: {name}{side}.",
)
NEXT_WHERE: Bank = (
    "Jetzt {where}: {name}{side}.",
    "Als Nächstes {where}: {name}{side}.",
    "Lass deine Hände wandern. {name}, {where}{side}.",
    "Und jetzt {where}: {name}{side}.",
    "Lass deine Hände nun {where} ankommen: {name}{side}.",
)
DEEP_WHERE: Bank = (
    "Jetzt {where}: {name}{side}.",
    "Als Nächstes {where}: {name}{side}.",
    "Und jetzt {where}: {name}{side}.",
    "Nimm dir nun {where} Zeit: {name}{side}.",
    "Lass deine Hände {where} zur Ruhe kommen: {name}{side}.",
)
AGAIN: Bank = (
    "{name}, noch einmal{side}.",
    "Zurück zu Bekanntem: {name}{side}.",
    "Das kennst du schon: {name}{side}.",
    "Da ist es wieder: {name}{side}.",
    "Noch einmal: {name}{side}.",
    "Lass es wiederkommen: {name}{side}.",
)
OTHER_SIDE: Bank = (
    "Das Gleiche auf der {hand}n Seite.",
    "Jetzt die {hand} Seite, genauso.",
    "{name}, jetzt für die {hand} Seite.",
    "Geh hinüber, und mach das Gleiche auf der {hand}n Seite.",
    "Nun die {hand} Seite, ganz gleich.",
    "Schenk der {hand}n Seite dasselbe: {name}.",
    "Hinüber auf die {hand} Seite: {name}.",
    "Dasselbe auf der {hand}n Seite: {name}.",
    "Und die andere Seite: {name}, nun auf der {hand}n Seite.",
    "Wechsle hinüber. {name}, {hand} Seite.",
    "Jetzt bekommt es die {hand} Seite: {name}.",
    "Auch die {hand} Seite freut sich: {name}.",
)
STAY: Bank = (
    "Bleib dabei: {name}{side}.",
    "Mach damit weiter: {name}{side}.",
    "Weiter, genau so: {name}{side}.",
    "Bleib noch hier: {name}{side}.",
)
ON_TOP: Bank = (
    "Und ganz leicht darüber: {name}.",
    "Mit der anderen Hand, ganz leicht: {name}.",
    "Unten langsam, und darüber: {name}.",
)

# ------------------------------------------------------------------ the refrain
HOME_FIRST: Bank = (
    "Das ist dein Zuhause, hierher kommst du immer wieder: {name}.",
    "Jetzt kommt dein Refrain, die Griffe, die dich heimbringen: {name}.",
    "Dies ist dein Zuhause, und es kehrt wieder: {name}.",
    "Merk dir das, hier bist du daheim: {name}.",
)
HOME: Bank = (
    "Und wieder nach Hause: {name}.",
    "Komm nach Hause: {name}.",
    "Jetzt zurück nach Hause: {name}.",
    "Wieder daheim, wie zuvor: {name}.",
    "Lass dich von der Musik heimbringen: {name}.",
    "Gleich bist du daheim: {name}.",
    "Kehr zurück, du kennst es ja: {name}.",
    "Du kennst den Heimweg: {name}.",
    "Alles führt nach Hause: {name}.",
    "Noch einmal nach Hause: {name}.",
    "Der Refrain kommt zurück: {name}.",
    "Sammle alles ein, und komm heim: {name}.",
    "Und noch einmal heim: {name}.",
    "Führ euch beide nach Hause: {name}.",
    "Zeit, heimzukommen: {name}.",
    "Langsam nach Hause: {name}.",
    "Mach dich auf den Heimweg: {name}.",
    "Lass alles wieder hierher fließen: {name}.",
    "Und der Refrain: {name}.",
    "Hörst du ihn kommen? Zurück nach Hause: {name}.",
    "Jetzt nichts Neues. Nur dies: {name}.",
    "Deine Hände finden von selbst zurück: {name}.",
)
REFRAIN_NEXT: Bank = (
    "Und dann: {name}{side}.",
    "Lass es weiterfließen: {name}{side}.",
    "Lass daraus werden: {name}{side}.",
    "Dann, wie immer: {name}{side}.",
    "Und so geht es über: {name}{side}.",
    "Daraus wird nun: {name}{side}.",
    "Jetzt folgt: {name}{side}.",
    "Gleite sanft hinüber: {name}{side}.",
    "Und wie zuvor: {name}{side}.",
    "Danach wie gewohnt: {name}{side}.",
)
REFRAIN_HOLD: Bank = (
    "Und hier ruhen: {name}.",
    "Lass es zur Ruhe kommen: {name}.",
    "Dann bleib eine Weile: {name}.",
    "Und nun alles sammeln: {name}.",
    "Dann seid gemeinsam still: {name}.",
    "Jetzt einfach bleiben: {name}.",
    "Und loslassen: {name}.",
    "Lass die Hände ankommen: {name}.",
    "Und hier atmen: {name}.",
)

# ------------------------------------------------------------------ how firmly
FIRMER: Bank = (
    "Jetzt etwas fester, {firmer}.",
    "Diesmal fester, {firmer}.",
    "Lass den Druck wachsen, {firmer}.",
    "Gib ein wenig mehr, {firmer}.",
    "Es darf fester sein, {firmer}.",
    "Eine Stufe fester, {firmer}.",
)
WEIGHTIER: Bank = (
    "Sink ein Stück weiter ein, {firmer}.",
    "Jetzt mehr Gewicht, {firmer}.",
    "Lass dein Gewicht kommen, {firmer}.",
)
FIRMER_TO: Levels = {
    1: "doch noch so leicht wie über Sonnenbrand",
    2: "so wie beim Eincremen",
    3: "bis du den Muskel spürst",
    4: "bis du dich anlehnst",
    5: "tief und langsam, mit dem ganzen Körper",
}
LIGHTER: Bank = (
    "Jetzt leichter: {firmly}.",
    "Weicher nun, {firmly}.",
    "Lass den Druck schmelzen: {firmly}.",
    "Nimm dich zurück: {firmly}.",
    "Viel weicher, {firmly}.",
    "Nimm das Gewicht weg: {firmly}.",
    "Lass es ganz leicht werden, {firmly}.",
    "Weniger genügt jetzt: {firmly}.",
)
EASIER: Bank = (
    "Jetzt ein wenig leichter, {easier}.",
    "Gib etwas nach, {easier}.",
    "Eine Stufe leichter, {easier}.",
    "Nimm ein wenig Gewicht weg, {easier}.",
)
EASIER_TO: Levels = {
    3: "gerade so, dass du den Muskel spürst",
    4: "noch immer angelehnt",
    5: "noch immer tief",
}
STILL: Bank = (
    "Gar kein Druck, still und schwerelos.",
    "Lass deine Hände einfach liegen.",
    "Nichts bewegt sich, nichts drückt.",
    "Nur die Wärme deiner Hände.",
    "Ruhige Hände, ganz ohne Gewicht.",
    "Lass spüren, wie still du bist.",
)
#: The same five levels as `PRESSURE_SAYS`.
FIRMLY: Levels = {
    0: "still und schwerelos",
    1: "so leicht wie über Sonnenbrand",
    2: "wie beim Eincremen",
    3: "fest genug, um den Muskel zu spüren",
    4: "mit angelehntem Gewicht",
    5: "tief, mit dem ganzen Körpergewicht",
}

# ------------------------------------------------------------------ special passages
DEEP: Bank = (
    "Lehn dich langsam hinein, und frag, wie es sich anfühlt.",
    "Sink beim Ausatmen ein, und frag, ob es guttut.",
    "Lass dir Zeit beim Einsinken. Frag: mehr oder weniger?",
    "Lass dein Gewicht langsam ankommen, und hör auf die Antwort.",
    "Geh langsam hinein und langsam heraus, und frag unterwegs.",
    "Langsam hinein, und frag: Darf ich bleiben?",
    "Warte, bis der Muskel dich einlässt, und frag, wie das ist.",
    "Lehn dich langsam aus den Füßen an, und frag, ob es passt.",
)
REST: Bank = (
    "Jetzt weich werden: {name}{side}.",
    "Gönn der Stelle Ruhe: {name}{side}.",
    "Gib eine sanfte Antwort: {name}{side}.",
    "Streich alles glatt: {name}{side}.",
    "Beruhige die Stelle: {name}{side}.",
    "Lass das nachwirken: {name}{side}.",
    "Nun eine Ruhepause: {name}{side}.",
    "Besänftige die Haut wieder: {name}{side}.",
    "Jetzt etwas Liebevolles: {name}{side}.",
    "Lass es ausklingen: {name}{side}.",
)
STRETCH: Bank = (
    "Gleich etwas Schwereres: {name}{side}. Lass es aus, und bleib bei dem, was du kennst.",
    "Wenn du dich traust: {name}{side}. Wenn nicht, lass es ruhig aus.",
    "Jetzt etwas zum Hineinwachsen: {name}{side}. Lass es ruhig aus, dir fehlt nichts.",
    "{name}{side}, nur wenn du magst. Auslassen ist völlig in Ordnung.",
    "{name}{side}, oder lass es aus.",
)
STRETCH_WHERE: Bank = (
    "Gleich etwas Schwereres {where}: {name}{side}. Lass es ruhig aus, wenn du magst.",
    "Wenn du dich traust, {where}: {name}{side}. Wenn nicht, lass es ruhig aus.",
    "{where}, nur wenn du magst: {name}{side}. Oder lass es aus.",
)
STRETCH_OTHER: Bank = (
    "Das Gleiche auf der {hand}n Seite, oder lass es wieder aus.",
    "Auch auf der {hand}n Seite, falls du die erste gemacht hast.",
    "Und die {hand} Seite, wenn dir danach ist.",
)
OPEN: Bank = (
    "Der nächste Teil gehört euch. Macht, was ihr zwei am liebsten mögt.",
    "Das hier gehört jetzt euch. Keine Anleitung, nur deine Hände.",
    "Was jetzt kommt, gehört euch. Spielt, oder haltet euch einfach.",
    "Jetzt bin ich still, und dieser Teil gehört euch.",
    "Das gehört jetzt ganz euch.",
)
TURN: Bank = (
    "Hilf deinem Gegenüber jetzt beim {turned}. Es eilt nicht.",
    "Zeit zum {turned}, und du hilfst mit beiden Händen.",
    "Nun in Ruhe zum {turned}. Haltet alles warm und zugedeckt.",
    "Ganz langsam, hilf jetzt beim {turned}.",
    "Hilf beim {turned}.",
)
TURNED: Words = {
    "prone": "Umdrehen auf den Bauch",
    "supine": "Umdrehen auf den Rücken",
    "side": "Umdrehen auf die Seite",
    "seated": "Aufsetzen",
}
LAID_DOWN: Words = {
    "prone": "Hinlegen auf den Bauch",
    "supine": "Hinlegen auf den Rücken",
    "side": "Hinlegen auf die Seite",
    "seated": "Aufsetzen",
}
BEAT_COMES: Bank = (
    "Jetzt ist ein Takt zu hören. Lass deine Hände davon tragen.",
    "Hörst du den Takt? Lass deine Griffe darauf landen.",
    "Die Musik hat ihren Takt gefunden. Lass dich von ihr führen.",
)

# ------------------------------------------------------------------ in the middle of a passage
BREATHE: Bank = (
    "Atme aus, und lass die Schultern sinken.",
    "Atmet zusammen ein, und zusammen aus.",
    "Ein langes Ausatmen, für euch beide.",
    "Lass deinen Atem langsamer sein als deine Hände.",
    "Atme ganz hinunter bis in die Füße.",
    "Lausch auf den anderen Atem, und werde mit ihm langsamer.",
    "Atme ein, wenn die Hände fortgehen, und aus, wenn sie zurückkommen.",
    "Ein langsamer Atemzug, ganz hinaus.",
    "Lass das nächste Ausatmen das längste sein.",
    "Halte den eigenen Atem ruhig und tief.",
    "Spür, wo sich der Atem bewegt.",
    "Atme, als hättest du den ganzen Abend Zeit.",
    "Lasst euren Atem einander begegnen.",
    "Atme durch die Nase ein, und seufze es hinaus.",
    "Warte das Ende eines Atemzugs ab, und mach von dort weiter.",
)
BREATHE_HOLD: Bank = (
    "Spür das Atmen unter deinen Händen.",
    "Hier ist nichts zu tun, als warm zu sein.",
    "Bleib noch einen Atemzug lang.",
    "Lass spüren, dass du es nicht eilig hast.",
    "Nur Wärme und Zeit.",
    "Sei so still, wie du kannst, und spür hin.",
)
OWN_BODY: Bank = (
    "Lass deinen eigenen Kiefer und Nacken weich werden.",
    "Lass dein Gewicht arbeiten, nicht deine Finger.",
    "Spür in deinen eigenen Rücken. Lang und locker?",
    "Beug die Knie, und lass die Arme locker hängen.",
    "Wieg dich ein wenig mit. Das schont deine Hände.",
    "Halte deine Handgelenke gerade und locker.",
    "Sitz oder steh so, dass du eine Stunde bleiben könntest.",
    "Stell die Füße um, wenn es deinem Rücken guttut.",
    "Müde Hände? Tu weniger. Auch das ist viel.",
)
ATTEND: Bank = (
    "Langsamer, als du denkst.",
    "Lass die ganze Hand in Kontakt bleiben.",
    "Schließ für ein, zwei Griffe die Augen.",
    "Spür die Wärme, die zu dir zurückkommt.",
    "Eine Hand bleibt immer in Berührung.",
    "Lass jeden Griff ausklingen, bevor der nächste beginnt.",
    "Stell dir vor, du berührst diese Stelle zum ersten Mal.",
    "Spür, was sich unter deinen Händen verändert.",
    "Lass dir von der Haut sagen, wie schnell du sein darfst.",
    "Mach es, als wäre es der einzige Griff.",
    "Klein ist gut. Langsam ist gut.",
)
ASK: Bank = (
    "Frag: mehr, weniger oder genau so?",
    "Frag leise, ob es so guttut.",
    "Achte auf den Atem. Sieht er leicht aus?",
    "Ein Wort genügt: leichter, oder bleib so.",
    "Wenn sich etwas falsch anfühlt, werde sofort leichter.",
    "Frag einmal, dann hör mit den Händen zu.",
)
PRAISE: Bank = (
    "Schön. Genau so.",
    "Ihr macht das gut, ihr beide.",
    "Das ist schön. Mach weiter.",
    "Ja, so.",
    "Gut. Mehr braucht es nicht.",
    "Das ist schon genug.",
)
ON_THE_BEAT: Bank = (
    "Lass jede Hand auf dem Takt landen.",
    "Hand um Hand, wie langsames Gehen.",
    "Lockere Handgelenke, und die Musik zählt für dich.",
    "Lass den Rhythmus euch beide wiegen.",
    "Bleib im Takt, und bleib leicht.",
)

WHERE: Words = {
    "scalp": "auf der Kopfhaut",
    "head": "am Kopf",
    "face": "im Gesicht",
    "neck": "im Nacken",
    "shoulders": "an den Schultern",
    "between_blades": "zwischen den Schulterblättern",
    "blades": "über den Schulterblättern",
    "beside_spine": "neben der Wirbelsäule",
    "lower_back": "am unteren Rücken",
    "sacrum": "ganz unten am Rücken, über dem Kreuzbein",
    "hips": "an den Hüften",
    "upper_arms": "an den Oberarmen",
    "forearms": "an den Unterarmen",
    "hands": "an den Händen",
    "thighs": "an den Oberschenkeln",
    "calves": "an den Waden",
    "feet": "an den Füßen",
    "back": "auf dem ganzen Rücken",
    "chest": "oben auf der Brust",
    "belly": "auf dem Bauch",
}
