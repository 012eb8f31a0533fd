"""The model of a transceiver and every computation on it: pure functions, SI units, no window.

Which file answers a question at the bench, a line each:

Which IF? `rig/survey/if_survey.py`, and what costs how much `rig/survey/terms.py`
Where does the VFO run? `rig/plan/frequency_plan.py`
What will I hear or send besides? `rig/spurs/spurs.py` (sent), `rig/spurs/responses.py` (other inputs),
    `rig/birdies.py` (own tones), all with levels from `rig/spurs/product_levels.py`
What ladder do they make? `stages/filters/ladder_filter.py`
What are my crystals? `stages/crystals/crystals.py`, from a sweep `stages/crystals/crystal_sweep.py`, from a
    table `rig/bench/crystal_bench.py`, how to measure them `rig/bench/crystal_guidance.py`
Which goes where, and the ladder made for them? `stages/crystals/crystal_choice.py` and
    `rig/bench/crystals_in_ladder.py`
Where does the carrier go? `stages/filters/carrier_oscillator.py`
Which parts tune the VFO? `stages/vfo/tank_design.py`
How far does it drift? `stages/vfo/vfo.py`
What stills it? `stages/vfo/compensation.py`
Does it start? `stages/vfo/oscillator.py`
Does the crystal oscillator start, and what does it give? `stages/crystal_oscillator/working.py`
How does a counter show the dial? `rig/read_out/plan.py`
I measured a filter, which part is off? `stages/built/curve_fit.py`, in words `curve_words.py` there, of the
    rig `rig/built/measured.py`
How much gain, and is band noise heard? `rig/levels/receive.py` (with mismatch, folding and shares of the
    noise: `rig/levels/chain.py`; added up as a check: `own_noise.py`)
What do strong stations do? `rig/levels/dynamic_range.py`
And S1 to S9 + 60 dB? `rig/levels/s_meter.py`
How much drive, from which microphone, and what do two tones make? `rig/levels/transmit.py`
What passes of speech, and how loud can it get? `rig/audio/chain.py` and `facts.py` there
What does a mixer do at its drive? `stages/mixers/drive.py`, what does it make besides?
    `stages/mixers/products.py`, how is it soldered? `stages/mixers/design.py`
What goes where on the board? `rig/board/boards.py`, on the panel? `rig/board/panels.py`
Is the PA biased, cool, driven and matched? `stages/power_amplifier/working.py` and `rig/power/facts.py`
Is the output clean? `rig/levels/harmonics.py` and `rig/rules/emissions.py`
What is on in receive and transmit, and what does it draw? `rig/supply/table.py` (who is fed: `consumers.py`
    there; voltages and currents found from each other: `state.py`)
How is the supply soldered? `rig/supply/soldered.py`
Which end of a winding goes where? `rig/wound/ends.py`
What if the supply is connected backwards? `rig/supply/polarity.py`
In which order does it switch? `rig/supply/sequence.py`
What can I read, and is it right? `rig/log/expected.py` and `bench_log.py` there
Why is it not? `rig/log/causes.py`
Can it be made of what I have? `stages/on_hand.py`, and what is left to buy `rig/paper/stock.py`
"""
