//! What the columns of a sheet may hold, and the names that people give them.

use baycast_model::history::Zone;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Field {
    /// A batch's id or name.
    Batch,
    /// The bay that the batch stood in.
    Bay,
    /// Date, or date and time.
    At,
    /// Time of day.
    Time,
    /// What was done.
    Event,
    /// The caller's own id of the event.
    Id,
    /// What went in.
    Feedstock,
    /// How much, in the unit that the cell says.
    Amount,
    /// How much, by weight.
    Mass,
    /// How much, by volume.
    Volume,
    /// How much, in barrow loads.
    Barrows,
    /// Up to which share of the bay's height it is filled.
    FilledTo,
    /// How wet: measured, or what a squeezed handful did.
    Moisture,
    /// What a squeezed handful did.
    Squeeze,
    /// How high the heap was seen to stand, as a share of the bay's height.
    Level,
    /// The same under a name that may as well be a length: only where header or cell says that it is a share.
    Height,
    /// How the material was prepared.
    Preparation,
    /// Whether the material was shredded.
    Shredded,
    /// A probe reading, perhaps always of one zone or depth (cm).
    Temperature(Option<Zone>, Option<u16>),
    /// Air temperature.
    Ambient,
    /// How deep the probe's tip was.
    Depth,
    /// Which part of the heap.
    Zone,
    /// The bay that it was moved to.
    ToBay,
    /// Whether the cover is on.
    Cover,
    /// Water given.
    Water,
    /// Water given, or how much went in or out.
    Litres,
    /// The batch that was joined to it.
    Source,
    /// How that was put there.
    Placement,
    /// Whether it was turned.
    Turned,
    /// Whether it was trodden down.
    Firmed,
    /// How much was taken out.
    TakenOut,
    /// Whatever else people write down: not read.
    Notes,
}

/// The names of columns, in lower case and single spaces, without units. A refused header is told the first of each.
pub(super) const NAMES: &[(Field, &[&str])] = &[
    (Field::Batch, &["batch", "heap", "pile", "windrow", "compost", "batch id", "batch name", "heap name"]),
    (Field::Bay, &["bay", "bin", "bay id", "bay name", "bay no", "bay number", "in bay"]),
    (Field::At, &["at", "date", "day", "when", "datetime", "date time", "date and time", "timestamp"]),
    (Field::Time, &["time", "hour", "time of day"]),
    (
        Field::Event,
        &["event", "kind", "what", "action", "activity", "task", "job", "work", "type", "what was done"],
    ),
    (Field::Id, &["id", "own id", "external id", "event id", "row id", "reference", "ref"]),
    (
        Field::Feedstock,
        &["feedstock", "material", "ingredient", "input", "added", "what went in", "material added"],
    ),
    (Field::Amount, &["amount", "quantity", "how much", "qty"]),
    (Field::Mass, &["mass", "weight", "wet mass", "wet weight"]),
    (Field::Volume, &["volume", "loose volume"]),
    (
        Field::Barrows,
        &["barrows", "barrow loads", "barrow", "barrowloads", "barrowfuls", "loads", "wheelbarrows"],
    ),
    (Field::FilledTo, &["filled to", "filled", "fill level"]),
    (Field::Moisture, &["moisture", "moisture content", "water content", "wetness"]),
    (Field::Squeeze, &["squeeze", "squeeze test", "hand squeeze", "feel"]),
    (Field::Level, &["level", "heap level", "level seen", "level in bay", "fill", "how full"]),
    (Field::Height, &["height", "heap height", "height in bay"]),
    (Field::Preparation, &["preparation", "prepared"]),
    (Field::Shredded, &["shredded", "chopped", "shredded or chopped"]),
    (
        Field::Temperature(None, None),
        &["temperature", "temp", "temps", "reading", "probe", "heap temp", "heap temperature"],
    ),
    (Field::Ambient, &["ambient", "air", "outside temp", "outside temperature", "outdoor temp"]),
    (Field::Depth, &["depth", "probe depth", "reading depth"]),
    (Field::Zone, &["zone", "part", "place", "position", "where", "spot"]),
    (Field::ToBay, &["to bay", "moved to", "moved to bay", "into bay", "new bay", "to"]),
    (Field::Cover, &["state", "cover", "covered", "cover state"]),
    (Field::Water, &["water", "watering", "watered", "water given", "water added"]),
    (Field::Source, &["source", "merged", "merged from", "joined from", "from batch", "merged batch"]),
    (Field::Placement, &["placement", "laid"]),
    (Field::Turned, &["turned", "turn", "turning"]),
    (Field::Firmed, &["firmed", "firming", "trodden", "trodden down", "pressed down"]),
    (Field::TakenOut, &["taken out", "withdrawn", "withdrawal", "taken", "removed"]),
    (
        Field::Notes,
        &[
            "notes", "note", "comment", "comments", "remark", "remarks", "who", "by", "done by", "initials",
            "weather",
        ],
    ),
];

/// The first name of each column, for who asks what is known.
#[must_use]
pub fn known() -> String {
    NAMES.iter().filter_map(|(_, names)| names.first().copied()).collect::<Vec<_>>().join(", ")
}
