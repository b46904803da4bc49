//! The fields of a panel record, and where each stands in the inspection record.

use std::collections::HashMap;

use crate::facts::{Comes, FactKind, Scope, Vocabulary};

/// Most defects of a row: `kind`, `kind_2`, `kind_3`.
pub const DEFECTS: usize = 3;

/// How a value is written in the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Text: a word, a measure with its unit; several that are possible as a list or `a | b`.
    Text,
    /// A bare number.
    Number,
    /// Readings, each with its unit: a list, one, or `a | b`.
    Readings,
    /// Readings that are bare numbers.
    Numbers,
}

/// Fields whose values meet in what the survey works out from them. The answer depends on each group
/// as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// A word or a list: every value is a class of its own.
    Word,
    /// A measure that nothing else is worked out from.
    Alone,
    /// Day of the inspection and of placing: age.
    Age,
    /// Air and stone size.
    Air,
    /// Sizes of the slab and of the damage: shares.
    Surface,
    /// Thickness and depths: ratios.
    Depth,
    /// Taps and dull taps.
    Taps,
}

impl Group {
    /// The groups of more than one field.
    pub const SHARED: [Group; 5] = [
        Group::Age,
        Group::Air,
        Group::Surface,
        Group::Depth,
        Group::Taps,
    ];
}

/// A field of a row.
#[derive(Debug, Clone)]
pub struct Field {
    /// Key of the row.
    pub key: String,
    /// Where it stands in the record, such as `areas.0.defects.0.depth`.
    pub path: String,
    /// How it is written there.
    pub form: Form,
    /// What it is worked on together with.
    pub group: Group,
    /// Number of the defect it is about, from 0.
    pub defect: Option<usize>,
    /// What it holds, for help.
    pub about: String,
}

/// A key of a row: one of the record's fields, or what only names and places the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slot {
    /// A field that is judged, by index.
    Field(u16),
    /// Short name of the panel.
    Id,
    /// Latitude in degrees.
    Latitude,
    /// Longitude in degrees.
    Longitude,
    /// Kept for people; not judged.
    Remark,
}

/// Every key a row may have.
#[derive(Debug)]
pub struct Fields {
    all: Vec<Field>,
    slots: HashMap<String, Slot>,
    by_path: HashMap<String, u16>,
    kinds: [u16; DEFECTS],
    /// Index of `use`.
    pub use_: u16,
    /// Index of `date`.
    pub date: u16,
}

const SLAB: [(&str, &str, Form, Group); 32] = [
    ("date", "job.date", Form::Text, Group::Age),
    ("use", "slab.use", Form::Text, Group::Word),
    ("placed", "slab.placed", Form::Text, Group::Age),
    ("weathering", "site.weathering", Form::Text, Group::Word),
    (
        "freeze_thaw_days",
        "site.freeze_thaw_days",
        Form::Text,
        Group::Alone,
    ),
    ("deicers", "site.deicers", Form::Text, Group::Word),
    ("soil", "site.soil", Form::Text, Group::Word),
    ("drainage", "site.drainage", Form::Text, Group::Word),
    (
        "tree_distance",
        "site.tree_distance",
        Form::Text,
        Group::Alone,
    ),
    ("sun", "site.sun", Form::Text, Group::Word),
    ("thickness", "slab.thickness", Form::Text, Group::Depth),
    ("finish", "slab.finish", Form::Text, Group::Word),
    ("relief", "slab.relief", Form::Text, Group::Depth),
    (
        "reinforcement",
        "slab.reinforcement",
        Form::Text,
        Group::Word,
    ),
    ("support", "slab.support", Form::Text, Group::Word),
    ("covering", "slab.covering", Form::Text, Group::Word),
    (
        "covering_thickness",
        "slab.covering_thickness",
        Form::Text,
        Group::Depth,
    ),
    ("air", "slab.mix.air", Form::Text, Group::Air),
    (
        "largest_stone",
        "slab.mix.largest_stone",
        Form::Text,
        Group::Air,
    ),
    ("strength", "slab.mix.strength", Form::Text, Group::Alone),
    ("chloride", "slab.mix.chloride", Form::Text, Group::Alone),
    ("size", "areas.0.size", Form::Text, Group::Surface),
    ("surface", "areas.0.surface", Form::Text, Group::Surface),
    ("fall", "areas.0.fall", Form::Text, Group::Alone),
    (
        "taps",
        "areas.0.tests.sounding.taps",
        Form::Number,
        Group::Taps,
    ),
    (
        "hollow",
        "areas.0.tests.sounding.hollow",
        Form::Number,
        Group::Taps,
    ),
    (
        "water_drop",
        "areas.0.tests.water_drop",
        Form::Readings,
        Group::Alone,
    ),
    ("ph", "areas.0.tests.ph", Form::Numbers, Group::Alone),
    (
        "pull_off",
        "areas.0.tests.pull_off",
        Form::Readings,
        Group::Alone,
    ),
    ("wish_finish", "wishes.finish", Form::Text, Group::Word),
    ("wish_relief", "wishes.relief", Form::Text, Group::Word),
    ("traffic", "wishes.traffic", Form::Text, Group::Word),
];

const DEFECT: [(&str, &str, Group); 15] = [
    ("kind", "kind", Group::Word),
    ("extent", "extent", Group::Surface),
    ("damaged", "surface", Group::Surface),
    ("share", "share", Group::Surface),
    ("count", "count", Group::Surface),
    ("depth", "depth", Group::Depth),
    ("greatest_depth", "greatest_depth", Group::Depth),
    ("diameter", "diameter", Group::Alone),
    ("width", "width", Group::Surface),
    ("length", "length", Group::Surface),
    ("offset", "offset", Group::Alone),
    ("spacing", "spacing", Group::Alone),
    ("water_depth", "water_depth", Group::Alone),
    ("stones", "stones", Group::Word),
    ("frame_counts", "frame_counts", Group::Alone),
];

impl Fields {
    /// The fields of a row under a rule pack: the record's own, and every sign the pack asks for.
    pub fn of(vocabulary: &Vocabulary) -> Fields {
        let mut all: Vec<Field> = Vec::new();
        for (key, path, form, group) in SLAB {
            all.push(Field {
                key: key.to_owned(),
                path: path.to_owned(),
                form,
                group,
                defect: None,
                about: format!("`{path}` of the record"),
            });
        }
        let named = |n: usize, key: &str| match n {
            0 => key.to_owned(),
            n => format!("{key}_{}", n + 1),
        };
        for n in 0..DEFECTS {
            for (key, field, group) in DEFECT {
                all.push(Field {
                    key: named(n, key),
                    path: format!("areas.0.defects.{n}.{field}"),
                    form: match field {
                        "frame_counts" => Form::Numbers,
                        _ => Form::Text,
                    },
                    group,
                    defect: Some(n),
                    about: format!("`{field}` of defect {}", n + 1),
                });
            }
        }
        for (_, fact) in vocabulary.facts() {
            if fact.comes != Comes::Asked {
                continue;
            }
            let group = match fact.kind {
                FactKind::Choice { .. } => Group::Word,
                FactKind::Quantity(_) => Group::Alone,
            };
            let places: Vec<(String, String, Option<usize>)> = match fact.scope {
                Scope::Site => vec![(fact.id.clone(), format!("site.signs.{}", fact.id), None)],
                Scope::Slab => vec![(fact.id.clone(), format!("slab.signs.{}", fact.id), None)],
                Scope::Area => vec![(fact.id.clone(), format!("areas.0.signs.{}", fact.id), None)],
                Scope::Defect => (0..DEFECTS)
                    .map(|n| {
                        let path = format!("areas.0.defects.{n}.signs.{}", fact.id);
                        (named(n, &fact.id), path, Some(n))
                    })
                    .collect(),
                _ => Vec::new(),
            };
            for (key, path, defect) in places {
                all.push(Field {
                    key,
                    path,
                    form: Form::Text,
                    group,
                    defect,
                    about: fact.name.clone(),
                });
            }
        }
        let mut slots: HashMap<String, Slot> = HashMap::new();
        for (key, slot) in [
            ("id", Slot::Id),
            ("lat", Slot::Latitude),
            ("lon", Slot::Longitude),
            ("name", Slot::Remark),
            ("place", Slot::Remark),
            ("inspector", Slot::Remark),
            ("note", Slot::Remark),
        ] {
            slots.insert(key.to_owned(), slot);
        }
        let mut by_path = HashMap::new();
        for (field, i) in all.iter().zip(0..) {
            slots.entry(field.key.clone()).or_insert(Slot::Field(i));
            by_path.insert(field.path.clone(), i);
        }
        let find = |path: &str| by_path.get(path).copied().unwrap_or(0);
        Fields {
            kinds: std::array::from_fn(|n| find(&format!("areas.0.defects.{n}.kind"))),
            use_: find("slab.use"),
            date: find("job.date"),
            all,
            slots,
            by_path,
        }
    }

    /// A field by index.
    pub fn get(&self, index: u16) -> &Field {
        // Indices come from this list alone.
        &self.all[usize::from(index)]
    }

    /// What a key of a row means.
    pub fn slot(&self, key: &str) -> Option<Slot> {
        self.slots.get(key).copied()
    }

    /// The field that stands at a path of the record, or at the nearest block around it.
    pub fn at_path(&self, path: &str) -> Option<u16> {
        let mut path = path;
        loop {
            if let Some(i) = self.by_path.get(path) {
                return Some(*i);
            }
            path = &path[..path.rfind('.')?];
        }
    }

    /// Index of the kind of a defect, from 0.
    pub fn kind(&self, defect: usize) -> Option<u16> {
        self.kinds.get(defect).copied()
    }

    /// Every key, for the nearest one to a slip.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.slots.keys().map(String::as_str)
    }

    /// The fields, in order.
    pub fn iter(&self) -> impl Iterator<Item = &Field> {
        self.all.iter()
    }
}
