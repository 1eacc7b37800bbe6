"""What results mean: composting, mixes, cautions, recycled content, claims.

In: `Results`. Out: findings with the rule, the figure that triggered it and its source; sentences with qualifiers.

- `allergens`: what binders hold that people are allergic to.
- `balance`: whether more paper was found than weighed in.
- `blend`: what one kg of parts needs beside it in a compost heap, as a range.
- `cautions`: cautions for people and rooms, chosen by what the workshop does.
- `claims`: sentences that results support, filled and qualified.
- `compost`: findings by rule over paper and part: inks, tape, grease-proofing, wall, metals, tests.
- `compost_rules`: the rules over one recipe.
- `risks`: the same in plain words as rows of a risk sheet that a school signs, with what only such a sheet holds.
- `headline`: what a period comes to in one sentence, and on which side of zero a total lies.
- `net`: the net account in other ways, and what a kilogram of paper does, recycled or pulped here.
- `recycled`: recycled content of the parts after ISO 14021.
- `refusals`: the rules on environmental claims by place, and what they refuse.
- `verdicts`: how a part stands beside its plastic part, in words.
- `ruletable`: rules as rows of the tables in this folder: texts, the factor rows that they name, where they stand.

What holds here:

- A finding is never a certificate. Compost rules see dry shares and recorded facts. A rule says one thing, names the
  figure that triggered it, its source, and its effect: blocked before unknown before no blocker found. A rule that
  lacks a record says what to record. A share below the threshold waives one test and nothing else. A home heap is never
  more than unknown.
- Recycled content is the cautious reading: own rejects count in the mass of the part and never as recycled, so that
  pulping them again lowers the share.
- Claims are sentences, not parts of sentences: each carries its qualifier in its brackets. What may not be said is
  listed with its reason in a section of its own, the only place of a report where such words stand.
- Claims go by place: the rules of the world, then those of the country and its groups. What is refused is the same
  everywhere; the rules cited differ.
- The net account is a change against no workshop, with average data; it says so where it stands, and no claim rests on
  it. Beside it: without the plastic displaced, moulds whole, and other views of landfills. Carbon that stays in a
  landfill is credited for the paper and for what parts and losses hold of it, so that parts that end there get what the
  paper loses; moulds and plastic are left out of that credit. Moulds count whole in a period in which they pressed
  anything, as many as its pressings take, whenever they were bought: the records do not say when.
- A kilogram recycled and a kilogram pulped here avoid the same disposal; they differ by the primary fibre and by what
  making costs, the mean of the workshop over all paper, because a batch says nothing of the making of one grade.
- A part is called lower or higher where nine draws of ten agree. Paper is called kept from landfill, and the net account above
  or below zero, where the whole interval lies on that side; elsewhere it is said that it cannot be told, and no claim is made.
- Blends take the ends of the published ranges together; carbon above that of cellulose is capped, the published ratio
  kept.
"""
