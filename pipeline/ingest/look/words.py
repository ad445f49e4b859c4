"""The words that sheets and devices use for fields, measures and rows that are none."""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


FIELD_WORDS = {
    "athlete": "athlete,name,player,player name,athlete name,full name,person,subject,who,hitter,"
    "pitcher,thrower,runner,"
    "participant,user,member,sportler,spieler,nombre,nom,nome,naam,athlet,athlète,atleta,joueur,jugador,jugadora,jogador,"
    "giocatore,speler,nombre completo,nom complet,athlete id,player id,id",
    "measured_on": "date,day,measured on,session date,test date,datum,tag,when,taken at,timestamp,ts,"
    "date time,datetime,"
    "session,tested,tested on,fecha,jour,día,dia,giorno,data,messdatum,testdatum,test day,"
    "date tested,recorded,recorded at,measured",
    "measured_at": "time of day,clock,measured at,clock time,uhrzeit",
    "measure": "measure,metric,test,exercise,drill,lift,event,station,parameter,item,movement",
    "value": "value,reading,result,score,number,mark,load,measurement,wert,weight used,best set",
    "unit": "unit,units,uom,einheit",
    "trial": "trial,try,attempt,run,swing,swing no,jump,throw,pitch,hit no,hit,no,nr,trial no,"
    "attempt no,run no,trial number,"
    "pitch no,throw no,rep no,shot,test no",
    "reps": "reps,repetitions,rep count",
    "first": "first,first name,given name,firstname,vorname,given",
    "last": "last,last name,surname,family name,lastname,nachname,family",
}
FIRST_NAMES = _words("first firstname given givenname vorname prénom prenom voornaam nombredepila")
LAST_NAMES = _words(
    "last lastname surname familyname family nachname apellido apellidos cognome achternaam sobrenome"
)
EITHER_NAMES = _words("name nombre nom nome naam")  # the other part of a name, where one of the two is named
DATE_WORDS = _words("date dates fecha datum data jour día dia giorno tag day")
WEEK_DAYS = _words(
    "mon tue tues wed thu thur thurs fri sat sun monday tuesday wednesday thursday friday saturday sunday"
)
SIDES = _words("l r left right links rechts izquierda derecha gauche droite")
OTHER_TIMES = _words(
    "old previous prev prior last "
    "pre post initial final start end before after begin beginning entry intake exit baseline retest week wk month mid "
    "vorher nachher antes después avant après jan feb mar apr may jun jul aug sep oct nov dec spring summer fall winter"
)  # fmt: skip
ROSTER_WORDS = {
    "athlete_id": "athlete id,player id,id,code,number",
    "name": "name,full name,player,athlete,player name,athlete name",
    "birth_date": "birth date,dob,date of birth,birthday,born,birthdate",
    "sex": "sex,gender,m f",
    "sport": "sport",
    "graduation_year": "graduation year,grad year,grad,class,class of",
    "positions": "positions,position,pos",
    "bats": "bats,b",
    "throws": "throws,t",
    "aliases": "aliases,nickname,goes by,also known as",
}  # fmt: skip
MEASURE_WORDS = {
    "body_mass": "wt,bw,weigh in,weigh ins,weights,weighins,body wt,scale weight",
    "standing_height": "ht,hgt,stand height,standing ht",
    "sitting_height": "sit height,sitting ht",
    "wingspan": "span,wing span",
    "trap_bar_deadlift": "hex bar,trap bar dl,tb deadlift,trapbar,tbar dl",
    "squat": "sq",
    "bench_press": "bp",
    "pull_up_reps": "pullups,pull ups,max pull ups",
    "grip_strength": "grip strength,dyno,hand grip",
    "countermovement_jump": "vj,vert,jump height,vert jump,counter movement jump,cm jump",
    "broad_jump": "bj,slj,broad",
    "medicine_ball_throw": "medball,med ball,mbt",
    "sprint_10yd": "10yd,10y,10 yards,10,10 yd sprint",
    "sprint_30yd": "30yd,30y,30 yards,30,30 yd sprint",
    "sprint_60yd": "60yd,60y,60 yards,60,60 time,60 yd sprint",
    "home_to_first": "home to 1st,h1,home first,htf",
    "shuttle_5_10_5": "5 10 5,5105,proagility",
    "exit_speed": "exit speed,ball speed off bat,exitvelo,exit vel",
    "bat_speed": "bat spd,bat velo,bat velocity",
    "pitch_speed": "fb,fb velo,pitch spd",
    "throw_speed": "throw spd,throwing speed",
    "pop_time": "pop time 2b,poptime",
    "pelvis_peak_speed": "pelvis,hips,pelvis peak,peak pelvis,hip speed,pelvis speed",
    "torso_peak_speed": "torso,chest,trunk,torso peak,peak torso,torso speed,trunk speed",
}  # fmt: skip
# The same in German, Spanish, French, Italian, Portuguese and Dutch.
FOREIGN_WORDS = {
    "body_mass": "gewicht,körpergewicht,körpermasse,peso,peso corporal,poids,masse,"
    "masse corporelle,massa,massa corporal,lichaamsgewicht",
    "standing_height": "größe,groesse,körpergröße,körperhöhe,estatura,talla,altura,taille,altezza,"
    "statura,lengte,lichaamslengte",
    "sitting_height": "sitzhöhe,sitzgröße,talla sentado,altura sentado,taille assise,altezza da seduto,"
    "zithoogte",
    "wingspan": "spannweite,armspannweite,envergadura,envergure,apertura alare,spanwijdte",
    "squat": "kniebeuge,sentadilla,agachamento",
    "bench_press": "bankdrücken,press de banca,press banca,développé couché,supino,panca piana",
    "pull_up_reps": "klimmzüge,dominadas,tractions,trazioni,optrekken",
    "grip_strength": "handkraft,griffkraft,fuerza de agarre,fuerza de prensión,force de préhension,"
    "knijpkracht",
    "countermovement_jump": "salto vertical,saut vertical,détente verticale,détente,vertikalsprung,"
    "standhochsprung,salto verticale,salto con contramovimiento",
    "broad_jump": "standweitsprung,salto de longitud,salto largo,saut en longueur,salto in lungo,"
    "verspringen",
    "exit_speed": "velocidad de salida,vitesse de sortie,austrittsgeschwindigkeit,velocità di uscita",
    "bat_speed": "velocidad del bate,velocidad de bate,vitesse de batte,schlägergeschwindigkeit",
    "throw_speed": "velocidad de tiro,vitesse de lancer,wurfgeschwindigkeit",
    "pitch_speed": "velocidad de lanzamiento,velocidad de pitcheo",
}  # fmt: skip
COMPUTED = _words("avg average mean max best top min median peak mittel total sum")
NOT_A_READING = _words(
    "goal target aim projected predicted prev previous prior last change diff delta gain rank ranking percentile pctl "
    "pctile ile tile grade rating score vs norm bmi ratio expected need needed"
)
TRIAL_WORDS = _words(
    "try trial attempt rep run swing jump throw test no nr t j a rd round effort hit pitch "
    "jumps sprints throws lifts tests strength power running station stations"
)
BLANK_WORDS = _words(
    "- -- --- – — . / n/a na nan null none dnf dnp dns absent abs out inj injured hurt x nt nil #n/a err error"
) | {"did not run", "did not test", "no test", "not tested", "no read", "no reading"}
FOOTERS = _words(
    "average averages avg mean means median total totals max min best sd std n count sum team squad group camp overall "
    "minimum maximum mittelwert durchschnitt schnitt mittel summe gesamt mannschaft moyenne médiane somme équipe "
    "promedio media mediana suma equipo somma squadra média soma equipe gemiddelde som totaal ploeg"
)
FLAG_WORDS = _words("valid status stable ok flag quality accepted good use keep usable state check")
YES = ("y", "yes", "ok", "valid", "true", "good", "1", "stable", "accepted", "pass")
NICKNAMES = (
    "william bill will billy liam", "robert rob bob bobby", "james jim jimmy jamie", "john jack johnny jon",
    "jonathan jon jonny", "michael mike mikey", "thomas tom tommy", "joseph joe joey", "christopher chris topher",
    "daniel dan danny", "matthew matt matty", "anthony tony", "andrew andy drew", "nicholas nick nico",
    "alexander alex xander", "alexandra alex lexi sasha", "benjamin ben benny", "samuel sam sammy", "samantha sam",
    "edward ed eddie ted", "charles charlie chuck", "katherine kate katie kathy", "elizabeth liz beth eliza lizzie",
    "margaret maggie meg peggy", "rebecca becca becky", "jennifer jen jenny", "isabella bella izzy", "gabriel gabe",
    "zachary zach zack", "timothy tim timmy", "theodore theo ted teddy", "nathaniel nate nathan", "joshua josh",
    "jacob jake", "leonard leo lenny", "vincent vince vinny", "abigail abby", "victoria vicky tori", "maximilian max",
)  # fmt: skip
