"""One module a stage: the stage's model -> its circuit -> its figures. Nothing here knows the rig."""
