"""Three worlds written down before the other studies' processes were read, and unlike them on purpose.

Each folder is a program of four camps, one after the other, of 8 to 45 athletes and 3 to 30 weeks; who stays how long, who
is tested when, and how noisy each is, differs. Exit speed in mph, body mass in kg; one typical error is about 1.5 mph.

**steps and relapses.** Output does not grow, it clicks: none to four steps a stay on random days (mean .9 mph each), flat
between; a quarter never change. A third fall ill for ten days: no tests, no weigh-ins, 1.5 mph and 1.8 kg lost, regained
over three and two weeks. A bad day is worse than a good day is good (session noise is a turned gamma, shape 2), own SD log-
normal about 1.2 mph (SD of its log .35), trials are skewed too (SD 2), the radar shows whole mph. Mass comes in pieces: 2 to
5 weeks of gain, 1 to 3 of nothing, Saturday to Monday .5 kg more. A kilogram brings .2 mph.

**a radar that drifts.** What is read is output plus the device's drift, alike for all: a random slope for each 6 to 10 weeks
(SD .1 mph a week), then it is set right again. The test is learned: −1.5, −.6, −.2 mph on the first three days, times .3 to
1.7 by athlete. Thursday to Saturday legs are tired: −.7 mph. Steps of .5 mph. Output comes as an S with a delay of its own;
a fifth never change. Own SD log-normal about 1.1 (SD of its log .2). Mass: the plan's rate, with weekends. A kilogram brings
nothing.

**growing boys.** Camps of 8 to 20. A third are in a growth spurt, whose bell-shaped pace brings mass (1 to 4 kg in all) and
output (1 to 4 mph in all) in the same weeks; mass itself brings nothing. Tails of a t on 4 degrees, own SD log-normal about
1.2 (SD of its log .45) and a quarter larger in the second half of a stay, air and balls of the day move all of that day (SD .5
mph). Half are tested on Mondays, half on Fridays, with a two-week gap for examinations. A quarter neither grow nor change.

Of the plans a third stand still from a random week on, the others keep the planned rate in the mean of each three weeks.
The bounds (`BOUNDS`) are those of the task and stood here before the first run.
"""

from __future__ import annotations

SEED = 91501  # (SEED, world, folder); no other study or test draws from it
# Key: lowest and highest value that is promised in each world.
BOUNDS = {
    "change": (0.93, 1.0),  # 95 % interval of an athlete's change, all, and in each third by true noise
    "clear_ever": (0.0, 0.05),  # stays without change ever called clear, a look after each session
    "power": (0.55, 1.0),  # true gain of 2.5 to 3.5 typical errors called a clear gain by the end
    "size": (0.92, 1.0),  # interval of the size where the true change is 2 to 3 typical errors
    "gain": (0.92, 0.98),  # interval of the camp's mean change
    "error": (0.92, 1.0),  # interval of the typical error
    "alarm": (0.0, 0.08),  # plans that are kept, ever flagged
    "found": (0.5, 1.0),  # full stalls flagged within six weeks
    "chance": (-0.06, 0.06),  # chance of the target said less what came
    "rate": (0.92, 1.0),  # interval of the rate now
    "projection": (0.92, 0.98),  # interval of a session to come
    "link": (0.92, 0.98),  # interval of the number per kilogram, where one is given
    "told": (0.0, 0.07),  # number per kilogram told from zero where a kilogram brings nothing
}
