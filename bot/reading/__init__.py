"""How a message is read, room by room, in this order.

pieces    text to the word pieces that the encoder knows, each with its place
encoder   pieces to scores: the one learned step
clauses   scores to clauses: what kind, told or asked or wished, with the spans in it
figures   the numbers in them put in order
borders   where each begins and ends: joined, or set apart
link      spans to kit of this diver, parts and substances of the catalogue
values    spans to numbers, units and days
build_*   a clause to what it means, one file a family of intents
gates     what may be recorded of it
choose    act, ask with choices, ask for what is not named, or say what was not understood
leftover  what was said and not used
read      the way through them all
burns, together, weigh   set against the older readers until those are gone
"""
