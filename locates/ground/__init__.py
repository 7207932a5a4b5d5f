"""Pure engine of the ground: what field readings mean, and what they mean for the dig.

No Django, no REST framework, no Celery, no clock. Values in, values out: every function takes plain
numbers or frozen dataclasses and returns frozen dataclasses, refusing bad input with `GroundError`.
Lengths are metres, angles degrees, fields nanotesla, currents amperes (rms), frequencies hertz;
a bare number that could be misread carries its unit in its name.

The rooms, in the order in which a locate run passes through them:

- `refusal`      the error every room raises, with a way to correct
- `lengths`      feet, inches, metres; US survey and international feet told apart
- `entry`        what a person may type: caught, explained, corrected
- `coordinates`  WGS84, UTM, state plane; local metres
- `exchange`     marks in and out: CSV and GeoJSON, faults by row and column
- `baseline`     offsets and ties from two fixed marks
- `line`         closed forms of a long conductor's field (depth, current, errors)
- `depth`        one depth with an uncertainty from all readings at a point
- `sonde`        closed forms of a sonde's field; a fix from two nulls and a peak
- `pipe`         alignment and fall of a pipe from sonde points
- `counter`      camera counter to a dig point with a radius of doubt
- `reading`      what is read at one point, and with what receiver
- `doubt`        named warnings at a point: the figure, the limit, what to do about it
- `smoothing`    local robust fits behind a trace
- `trace`        a robust trace through points, with bands
- `quality`      ASCE 38-22 quality level by method and evidence
- `agreement`    do two runs by different methods tell of the same line
- `run`          one locate run reckoned whole: the door the application enters by
- `crossing`     what a trench crosses, where, and how much of it is hand digging
- `zones`        tolerance and hand-dig zones, crossings of a trench
- `trench`       protective system, slope, spoil, truck loads, set-back
- `layout`       does the sloped trench with its spoil fit the ticket's area
- `method`       which method and frequency to try first

A depth from a reading never permits machine digging inside a zone: see `caution`.
"""
