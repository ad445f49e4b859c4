"""What the screens say where there is nothing to show: which file to import, and how."""

NOTHING_BUILT = (
    "Nothing is built yet. Open **Data** and upload a roster, a camps and a stays file and the readings of your "
    "test days, then press **Rebuild**."
)
OTHER_VERSION = {
    "older": "These results were made by an older Latewood, and this one reads other tables.",
    "newer": "These results were made by a newer Latewood. Start the newer one, or make them anew with this one.",
    "other": "These results were made by another version of Latewood, and this one reads other tables.",
}
MAKE_ANEW = "Press **Rebuild** in **Data**: files and answers stay as they are."
NO_CAMP = "No camp yet. Import a camps file (camp_id, label, starts_on, ends_on) and a stays file in Data."
NO_GAIN = "No gains here: the picked camps have no sessions in these measures. Pick more, or import readings."
NO_ATHLETE = "No athlete yet. Import a roster (athlete_id, name, birth_date, sex, sport) in Data."
NO_CAMP_TO_LIST = (
    "Pick an athlete by name. With a camps and a stays file the athletes of a camp are listed here."
)
NO_READING = "No reading of this athlete yet. Import readings in Data; changes show from the second test day."
NO_VERDICT = (
    "No verdict yet: it takes four test days in one line. What has been measured so far is listed below."
)
NOT_IN_STAY = "Nothing to draw: no session of these measures falls into the stay."
NO_LINK = "No account yet: it takes weigh-ins over the stay and four test days of an output."
NO_PEERS = "No comparison: it takes a birth date on the roster, and height and body mass near the test day."
NO_TARGET = "No projection: it takes an exit date ahead or a weight plan, and sessions of an output."
NO_PLAN = (
    "No weight plan. That is right for most athletes. To follow one, import a plans file (plan_id, athlete, "
    "start_on, start_mass, target_on, target_mass, unit, purpose, made_by, approved_by) in Data."
)
NO_ACTIVE_PLAN = "No plan is active here today. Pick another camp, or see the ended ones below."
NO_SUCH_NUMBER = "This address names no camp or no measure of the published build. Start from Cohorts."
NO_FILE = "No file yet. Drop files above."
NOBODY_HERE = "Nobody is at a camp today. Import a stays file in Data, or check the dates of the camps."
NOT_YOURS = "This athlete or camp is not among those your role covers, or there is none of that id."
