"""The forecast: who finishes when, on which place, and what that makes of the standing.

`mixed` is the algebra of the model, `legs` and `reading` turn plan and trails into its numbers, `model` holds what is
believed before the start and learns from the field, `draws` plays the rest of the heat many times over, `predict`
puts the parts together. Pure: seeded, no clock. docs/forecast-model.md says how well it is calibrated.
"""
