"""The steps of a batch before the lid and after a clear sample: what is to be done, with its caution and its timer."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BatchStep:
    """kind: of the event that ticks it; one without an event ticks itself. words: in the list.

    headline, line: while it is the next one; the line holds its caution. page: of the bench, where it is worked out and
    logged; may be empty. timer: of ``STEP_TIMERS``, or empty. stands: where a batch stands that has come so far.
    by_tap: whether it is logged by a tap all the same, because its page only works out.
    """

    kind: str
    words: str
    headline: str
    line: str
    page: str = ""
    timer: str = ""
    stands: str = ""
    by_tap: bool = False


# Steps that tick themselves.
PROBE, REST, DOSE, SETTLING = "probe", "rest", "dose", "settling"
BEFORE_LID = (
    BatchStep(
        "oils melted",
        "Oils melted",
        "Melt the oils",
        "On low until nothing solid is left, then heat off. Hot oil burns.",
        timer="oils",
    ),
    BatchStep(
        "lye cooled",
        "Lye cooled",
        "Let the lye cool",
        "KOH into water in parts, never water onto KOH. Goggles and gloves.",
        timer="lye",
    ),
    BatchStep("lye in", "Lye in", "Pour the lye in", "Slowly, stirring. Goggles and gloves; nothing of aluminium."),
    BatchStep(
        "thick trace",
        "Thick trace",
        "Blend to thick trace",
        "A light one does not hold. Keep the head under: it spits caustic.",
    ),
    BatchStep(
        PROBE, "Probe in and heard", "Put the probe in", "Through the vent or under the rim, away from the wall."
    ),
    BatchStep("lid on", "Lid on", "Put the lid on", "Stay near: hot paste can climb over the rim."),
)
AFTER_CLEAR = (
    BatchStep(
        "heat off", "Heat off", "It reads clear", "When you are content, turn the heat off. All stays hot for hours."
    ),
    BatchStep("finished", "Cook finished", "Finish the cook", "The readings stop. The batch goes on, step by step."),
    BatchStep(
        "paste weighed",
        "Weigh the paste",
        "Weigh the paste",
        "Less the empty crock. Hot paste sticks and burns: gloves.",
        "dilute",
        stands="paste weighed",
    ),
    BatchStep(
        "water added",
        "Dilute",
        "Add boiling distilled water",
        "In parts, with room above: it foams up, and it scalds.",
        "dilute",
        stands="diluted",
    ),
    BatchStep(
        REST,
        "Rest overnight",
        "Lumps? Let it rest, covered",
        "They take up water overnight. In the morning a little more for what is left.",
        "dilute",
        REST,
        "rested in its water",
    ),
    BatchStep(
        "ph read",
        "Read its pH",
        "Read the pH of a sample",
        "Diluted, and cooled to 25 °C. No glass probe in hot soap.",
        "neutralise",
        stands="diluted, its pH read",
    ),
    BatchStep(
        "jar neutralised",
        "Jar test",
        "Try the dose in a jar",
        "Portions into a weighed jar before anything goes into the pot.",
        "jar",
        stands="diluted, its dose tried",
    ),
    BatchStep(
        "neutraliser added",
        "Neutralise",
        "Dose the soap",
        "Slowly, stirring; goggles. What is in cannot be taken out.",
        "neutralise",
        stands="neutralised",
    ),
    BatchStep(
        DOSE,
        "Wait a quarter of an hour",
        "Wait a quarter of an hour",
        "Then read its pH again, before any further dose.",
        "neutralise",
        DOSE,
        "neutralised",
    ),
    BatchStep(
        "jar thickened",
        "Thicken",
        "Try the thickening in a jar",
        "Past its thickest a soap runs thin again, for good.",
        "thicken",
        stands="its thickening tried",
    ),
    BatchStep(
        "added",
        "Colour and scent",
        "Add colour and scent",
        "By percentage, within the supplier's limit. Cooled, and no flame.",
        "bottle",
        stands="colour and scent in",
    ),
    BatchStep(
        SETTLING,
        "Rest a week",
        "Let it rest for a week",
        "Covered, cool and dark: what is not soap sinks or rises.",
        timer=SETTLING,
        stands="rested",
    ),
    BatchStep(
        "settled",
        "Clear or filtered",
        "Is it clear?",
        "Pour the clear off; haze that stays goes through a fine filter.",
        stands="ready to be bottled",
    ),
    BatchStep("bottled", "Bottle", "Bottle it", "Into clean dry bottles; keep one back to look at later.", "bottle"),
    BatchStep(
        "labelled",
        "Label",
        "Label the bottles",
        "Hold the list against local law before you print it.",
        "label",
        by_tap=True,
    ),
)
