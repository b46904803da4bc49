//! The words that the record's own fields take, for those the rule pack has no fact of the same
//! meaning. The pack's list goes first where it has one.

use crate::facts::{FactKind, Vocabulary};

/// A field that takes one of a few words.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    /// Definition in the schema and the field's name there.
    pub field: (&'static str, &'static str),
    /// Fact of the pack with the same meaning.
    pub fact: &'static str,
    /// The words where the pack has no such fact.
    pub own: &'static [&'static str],
}

/// Every such field.
pub const WORDS: &[Words] = &[
    Words {
        field: ("Site", "weathering"),
        fact: "weathering",
        own: &["negligible", "moderate", "severe"],
    },
    Words {
        field: ("Site", "deicers"),
        fact: "deicers",
        own: &[
            "none",
            "rock_salt",
            "calcium_chloride",
            "magnesium_chloride",
            "acetate",
            "urea",
            "ammonium",
            "sand",
        ],
    },
    Words {
        field: ("Site", "soil"),
        fact: "soil",
        own: &["clay", "silt", "sand", "gravel", "fill", "rock"],
    },
    Words {
        field: ("Site", "drainage"),
        fact: "drainage",
        own: &["good", "poor"],
    },
    Words {
        field: ("Site", "sun"),
        fact: "sun",
        own: &["full", "part", "shade"],
    },
    Words {
        field: ("Slab", "use"),
        fact: "use",
        own: &[
            "walk",
            "patio",
            "drive",
            "garage_floor",
            "pool_deck",
            "apron",
            "porch",
            "interior_floor",
            "carport_deck",
        ],
    },
    Words {
        field: ("Slab", "finish"),
        fact: "finish",
        own: &[
            "broom",
            "float",
            "steel_trowel",
            "exposed_stone",
            "patterned",
            "smooth",
        ],
    },
    Words {
        field: ("Slab", "reinforcement"),
        fact: "reinforcement",
        own: &["none", "mesh", "bars", "fibres", "post_tensioned"],
    },
    Words {
        field: ("Slab", "support"),
        fact: "support",
        own: &["on_ground", "suspended"],
    },
    Words {
        field: ("Slab", "covering"),
        fact: "covering",
        own: &[
            "none",
            "penetrating_sealer",
            "film_sealer",
            "coating",
            "overlay",
        ],
    },
    Words {
        field: ("Defect", "stones"),
        fact: "stones",
        own: &["not_showing", "showing", "proud", "missing"],
    },
    Words {
        field: ("Joint", "kind"),
        fact: "joint_kind",
        own: &["control", "construction", "isolation"],
    },
    Words {
        field: ("Tests", "sheet"),
        fact: "sheet",
        own: &["dry", "damp"],
    },
    Words {
        field: ("Edge", "kind"),
        fact: "edge_kind",
        own: &[
            "lawn", "planting", "wall", "building", "coping", "drain", "street",
        ],
    },
    Words {
        field: ("Edge", "side"),
        fact: "edge_side",
        own: &["left", "right", "top", "bottom"],
    },
    Words {
        field: ("Wishes", "finish"),
        fact: "wish_finish",
        own: &["as_is", "plain", "broom", "patterned", "sealed"],
    },
    Words {
        field: ("Wishes", "relief"),
        fact: "wish_relief",
        own: &["shallow", "deep"],
    },
    Words {
        field: ("Wishes", "traffic"),
        fact: "traffic",
        own: &["foot", "car", "truck"],
    },
    Words {
        field: ("Material", "kind"),
        fact: "material_kind",
        own: &[
            "overlay",
            "resurfacer",
            "skim",
            "patch",
            "primer",
            "slurry",
            "sealer",
            "crack_filler",
            "joint_sealant",
            "topping",
            "self_leveling",
            "pigment",
            "release",
        ],
    },
    Words {
        field: ("PriceLine", "option"),
        fact: "price_option",
        own: &[
            "do_little",
            "repair",
            "replace_part",
            "replace_all",
            "thinner",
            "taper",
            "lower_walk",
            "new_level",
            "rebuild_steps",
        ],
    },
    Words {
        field: ("PriceLine", "per"),
        fact: "price_per",
        own: &["job", "ft2", "m2", "bag", "hour"],
    },
];

impl Words {
    /// The words the field takes under a vocabulary.
    pub fn allowed<'v>(&self, vocabulary: Option<&'v Vocabulary>) -> Vec<&'v str> {
        let fact = vocabulary.and_then(|v| v.find(self.fact).map(|id| v.fact(id)));
        match fact.map(|f| &f.kind) {
            Some(FactKind::Choice { values, .. }) => values.iter().map(|v| v.id.as_str()).collect(),
            _ => self.own.to_vec(),
        }
    }
}

/// The words of a field by its definition and name.
pub fn words(definition: &str, field: &str) -> Option<&'static Words> {
    WORDS.iter().find(|w| w.field == (definition, field))
}
