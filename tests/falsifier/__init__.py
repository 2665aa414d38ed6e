"""The falsifier: a second, plain model of the truth that tries to catch the program passing what would go wrong.

The program opens every input to a range and says that nothing inside it goes wrong.  Here is everything needed to try
that claim on setups nobody chose:

    setups.random_setup(seed, knowledge)        a sensible setup in the shape of its file
    ranges.ranges_of(setup)                     where each input may really lie, from a table of its own (RANGES)
    draw.draws(ranges, count, seed)             worlds inside the ranges, every second one a corner
    draw.worst_corner(ranges, margin)           a corner looked for, input by input
    draw.outside(world, shock)                  a shock that no range holds
    truth.judge_world(setup, world, pressures, spindle_limit)
                                                what happens in that world: relative margins, below 0 is wrong

A false pass is a setup that the program passes, with a margin below 0 in a world inside the ranges.

Shared with the program, so an error there is not found here: the reader of setup files; the material and friction
tables; the table of usual jaw sizes; where contact points stand on jaw and seat (two rings 3/8 of the length from mid
grip, columns at 2/3 of the half angle of a narrow jaw, 1/4 and 3/4 of a wide one: a modelling choice); grip summed over
normal forces; Kienzle's law and its factors by kind of cut; the elastic solvers of part, jaw and contact, which
published cases hold (docs/validation.md); stiffness per area under a jaw; one symmetric part in equal jaws.

Not shared: cut loads, which pass of a cut is met where and at what speed, grip from pressure and readings, speed,
weight, unbalance and spin-up, the limit of holding (a linear program with inscribed 16-sided friction polygons),
how part, jaw, bore, taper, out-of-round and friction while clamping go together, forms, yield, plates, every range.

Not modelled: threads, taps and parting off (refused); heat; a part creeping round below its limit (walking); lobes
other than one a jaw; deflection under the tool; marking.  ``chuck.serviced`` changes nothing here.
"""
