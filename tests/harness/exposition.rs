//! The numbers of a service in the open text format (OpenMetrics 1.0), read as strictly as the format is written down:
//! a name, its type and its lines together, no line twice, histograms that add up, an end.

use std::collections::{BTreeMap, BTreeSet};

use crate::http::Caller;

/// Labels and their values, by name.
pub type Labels = BTreeMap<String, String>;

/// Everything that was shown at one moment.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Numbers {
    /// The number of each line, by name and labels.
    pub samples: BTreeMap<(String, Labels), f64>,
    /// The type of each name.
    pub types: BTreeMap<String, String>,
}

/// Which endings the lines of a type have.
fn endings(kind: &str) -> &'static [&'static str] {
    match kind {
        "counter" => &["_total"],
        "gauge" => &[""],
        "info" => &["_info"],
        "histogram" => &["_bucket", "_count", "_sum"],
        other => panic!("type {other}"),
    }
}

fn is_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// The labels between braces.
fn labels(text: &str) -> Labels {
    let mut found = Labels::new();
    let mut rest = text;
    while !rest.is_empty() {
        let (name, after) = rest.split_once("=\"").unwrap_or_else(|| panic!("labels {text}"));
        assert!(is_name(name), "label {name} of {text}");
        let mut value = String::new();
        let mut letters = after.char_indices();
        let end = loop {
            match letters.next().unwrap_or_else(|| panic!("labels {text} have no end")) {
                (_, '\\') => value.push(match letters.next().map(|(_, c)| c) {
                    Some('n') => '\n',
                    Some(c @ ('"' | '\\')) => c,
                    other => panic!("labels {text}: \\{other:?}"),
                }),
                (at, '"') => break at,
                (_, c) => value.push(c),
            }
        };
        assert!(found.insert(name.to_owned(), value).is_none(), "label {name} twice in {text}");
        rest = &after[end + 1..];
        if let Some(more) = rest.strip_prefix(',') {
            assert!(!more.is_empty(), "labels {text}");
            rest = more;
        } else {
            assert!(rest.is_empty(), "labels {text}");
        }
    }
    found
}

impl Numbers {
    /// Asks a service for its numbers.
    #[track_caller]
    pub fn of(caller: &Caller) -> Self {
        let reply = caller.with_token("").get("/metrics").expect(200);
        assert_eq!(reply.header("content-type"), Some(preen_api::watch::numbers::FORMAT));
        Self::read(&reply.text)
    }

    /// Reads the format; panics at the first thing that does not keep to it.
    #[track_caller]
    pub fn read(text: &str) -> Self {
        let mut numbers = Self::default();
        let (mut family, mut units) = (String::new(), BTreeMap::new());
        let mut told = BTreeSet::new();
        let body = text.strip_suffix("# EOF\n").expect("it ends with its end");
        for line in body.lines() {
            assert_eq!(line.trim(), line, "`{line}`");
            if let Some(rest) = line.strip_prefix("# ") {
                let mut words = rest.splitn(3, ' ');
                let (what, name, said) =
                    (words.next().unwrap(), words.next().unwrap(), words.next().unwrap());
                assert!(is_name(name) && !said.is_empty(), "{line}");
                if name != family {
                    assert!(told.insert(name.to_owned()), "{name} is told of in two places");
                    family = name.to_owned();
                }
                match what {
                    "HELP" => {}
                    "TYPE" => {
                        assert!(numbers.types.insert(family.clone(), said.to_owned()).is_none(), "{line}")
                    }
                    "UNIT" => assert!(units.insert(family.clone(), said.to_owned()).is_none(), "{line}"),
                    _ => panic!("{line}"),
                }
                continue;
            }
            let (name, rest) = line.split_at(line.find(['{', ' ']).unwrap());
            let kind = numbers.types.get(&family).unwrap_or_else(|| panic!("{line} has no type"));
            let ending =
                name.strip_prefix(family.as_str()).unwrap_or_else(|| panic!("{line} under {family}"));
            assert!(endings(kind).contains(&ending), "{line} is no line of a {kind}");
            let (labelled, number) = match rest.strip_prefix('{') {
                Some(rest) => {
                    let (inside, number) = rest.rsplit_once("} ").unwrap_or_else(|| panic!("{line}"));
                    (labels(inside), number)
                }
                None => (Labels::new(), rest.trim_start()),
            };
            let number: f64 = number.parse().unwrap_or_else(|_| panic!("{line} has no number"));
            assert!(number >= 0.0, "{line}");
            let known = numbers.samples.insert((name.to_owned(), labelled), number);
            assert_eq!(known, None, "{line} stands there twice");
        }
        for (name, unit) in units {
            assert!(name.ends_with(&format!("_{unit}")), "{name} is in {unit}");
        }
        numbers.check_histograms();
        numbers
    }

    /// Buckets grow to the last one, which holds all that was counted.
    fn check_histograms(&self) {
        for family in self.types.iter().filter(|(_, kind)| *kind == "histogram").map(|(name, _)| name) {
            let (bucket, count) = (format!("{family}_bucket"), format!("{family}_count"));
            let mut series: BTreeMap<Labels, Vec<(f64, f64)>> = BTreeMap::new();
            for ((name, labels), number) in &self.samples {
                if *name == bucket {
                    let mut labels = labels.clone();
                    let end = labels.remove("le").expect("a bucket has its end");
                    let end = if end == "+Inf" { f64::INFINITY } else { end.parse().unwrap() };
                    series.entry(labels).or_default().push((end, *number));
                }
            }
            for (labels, mut buckets) in series {
                buckets.sort_by(|one, two| one.0.total_cmp(&two.0));
                assert!(buckets.windows(2).all(|pair| pair[0].1 <= pair[1].1), "{family} {labels:?}");
                let (end, all) = *buckets.last().unwrap();
                assert!(end.is_infinite(), "{family} {labels:?} has no last bucket");
                assert_eq!(self.samples[&(count.clone(), labels.clone())], all, "{family} {labels:?}");
                assert!(self.samples.contains_key(&(format!("{family}_sum"), labels)), "{family}");
            }
        }
    }

    /// The number of a line; 0 where there is no such line.
    pub fn get(&self, name: &str, labels: &[(&str, &str)]) -> f64 {
        let labels = labels.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
        self.samples.get(&(name.to_owned(), labels)).copied().unwrap_or_default()
    }

    /// Which counters (and counts of histograms) have moved since, and by how much.
    pub fn moved_since(&self, before: &Self) -> BTreeMap<(String, Labels), f64> {
        let counts =
            self.samples.iter().filter(|((name, _), _)| name.ends_with("_total") || name.ends_with("_count"));
        let moves = counts
            .map(|(key, now)| (key.clone(), now - before.samples.get(key).copied().unwrap_or_default()));
        moves.filter(|(_, by)| *by != 0.0).collect()
    }
}
