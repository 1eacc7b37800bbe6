"""What results mean: composting, mixes, cautions, recycled content, claims.

In: `Results`. Out: findings with the rule, the figure that triggered it and its source; sentences with qualifiers.

What holds here: a finding is never a certificate; a claim is a whole sentence; what may not be said is listed with its
reason.
"""
