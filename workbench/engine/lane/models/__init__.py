"""Makers' models in a lane's statistical flow: run once per state, their answers put into the plan or the signal.

A transmitter's and a redriver's models are asked with a unit impulse; what they answer is a filter, which stands in the
plan like any other figure. A receiver's model may fit itself to the lane, so it gets the response that arrives, and the
neighbours' as aggressor columns. One more column, a very small unit impulse, tells its linear part, which is what
noise, neighbours and moved edges go through.

The stimulus is -1/2 and +1/2 and a response V/s, as in `makers.flows`. A model that can't be run leaves the stated
figures of its part in its place, and that is told.
"""
