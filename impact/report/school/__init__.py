"""The report for a school: what happened, what a term would bring, which way its carbon goes."""
