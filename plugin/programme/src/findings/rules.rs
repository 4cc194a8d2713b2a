//! The table of rules: the limits at which something becomes a finding.

use super::{KINDS, Kind};
use crate::session::COVERED_DB;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// The rule of one kind of finding.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rule {
    /// Whether this kind is reported.
    pub on: bool,
    /// The limit, in the unit that [`Kind`] gives.
    pub limit: f64,
    /// Least length, seconds.
    pub secs: f64,
}

/// The rules of all kinds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules([Rule; KINDS]);

impl Rules {
    /// The rule of a kind.
    pub fn get(&self, kind: Kind) -> Rule {
        self.0[kind.place()]
    }

    /// Sets the rule of a kind. A number out of range is replaced by the default.
    pub fn set(&mut self, kind: Kind, rule: Rule) {
        let usual = Self::usual(kind);
        let within = |value: f64, range: RangeInclusive<f64>, usual: f64| {
            if range.contains(&value) { value } else { usual }
        };
        self.0[kind.place()] = Rule {
            on: rule.on,
            limit: within(rule.limit, Self::limits(kind), usual.limit),
            secs: within(rule.secs, Self::lengths(kind), usual.secs),
        };
    }

    /// The default rule of a kind. Limits shared with verdicts have the same values; the others are common practice, no
    /// source.
    pub fn usual(kind: Kind) -> Rule {
        let (limit, secs) = match kind {
            Kind::OutOfStep => (0.6, 1.0),
            Kind::MonoLoss => (3.5, 1.0),
            Kind::OneSided => (40.0, 1.0),
            Kind::TruePeak | Kind::Clipped | Kind::Gap => (0.0, 0.0),
            Kind::Dropout => (5.0, 0.0),
            Kind::Wind => (6.0, 2.0),
            Kind::Balance => (0.0, 3.0),
            Kind::Covered => (COVERED_DB, 3.0),
            Kind::Jump => (1.0, 0.0),
        };
        Rule { on: true, limit, secs }
    }

    /// Range of limits that may be set.
    pub fn limits(kind: Kind) -> RangeInclusive<f64> {
        match kind {
            Kind::OutOfStep => 0.3..=1.0,
            Kind::MonoLoss => 1.0..=40.0,
            Kind::OneSided => 10.0..=80.0,
            Kind::TruePeak => 0.0..=6.0,
            Kind::Clipped | Kind::Gap => 0.0..=10_000.0,
            Kind::Dropout => 1.0..=1_000.0,
            Kind::Wind => 0.0..=30.0,
            Kind::Balance => 0.0..=50.0,
            // The balance does not report layers covered by less.
            Kind::Covered => COVERED_DB..=40.0,
            Kind::Jump => 0.25..=10.0,
        }
    }

    /// Range of lengths that may be set, seconds; only 0 for events.
    pub fn lengths(kind: Kind) -> RangeInclusive<f64> {
        match kind {
            Kind::TruePeak | Kind::Clipped | Kind::Dropout | Kind::Jump | Kind::Gap => 0.0..=0.0,
            _ => 0.2..=60.0,
        }
    }
}

impl Default for Rules {
    fn default() -> Self {
        Self(Kind::ALL.map(Self::usual))
    }
}

impl Serialize for Rules {
    /// Serialises the rules as a map by kind.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Kind::ALL
            .map(|kind| (kind, self.get(kind)))
            .into_iter()
            .collect::<BTreeMap<_, _>>()
            .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Rules {
    /// Reads the rules. A kind that is missing or unreadable takes its default; the others are not affected.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        /// A rule, or something unreadable in its place.
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Read {
            Rule(Rule),
            Other(serde::de::IgnoredAny),
        }
        let read = BTreeMap::<String, Read>::deserialize(deserializer)?;
        let mut rules = Self::default();
        for kind in Kind::ALL {
            if let Some(Read::Rule(rule)) = read.get(kind.key()) {
                rules.set(kind, *rule);
            }
        }
        Ok(rules)
    }
}

impl Kind {
    /// Its key in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::OutOfStep => "out_of_step",
            Self::MonoLoss => "mono_loss",
            Self::OneSided => "one_sided",
            Self::TruePeak => "true_peak",
            Self::Clipped => "clipped",
            Self::Dropout => "dropout",
            Self::Wind => "wind",
            Self::Balance => "balance",
            Self::Covered => "covered",
            Self::Jump => "jump",
            Self::Gap => "gap",
        }
    }
}
