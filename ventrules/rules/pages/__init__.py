"""The pages of the rules: meaning, an example at fault and put right, what is not seen."""
