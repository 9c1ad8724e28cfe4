//! Facts that wait to be sent: one file each, safe on disk before anything else is done with it, sent in the order in
//! which they were made.
//!
//! The order is a number of this outbox, not a time: a clock that was put back changes nothing. Whatever the service
//! will not have stays in a folder beside, with its reason, until somebody says otherwise.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use preen_domain::facts::Noun;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::failure::Failure;
use crate::files::{make_folder, private, sync_folder, write_whole};

/// A fact that waits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Waiting {
    /// Its noun.
    pub noun: Noun,
    /// The fact as it is sent.
    pub fact: Map<String, Value>,
    /// What it is, in a few words.
    pub what: String,
    /// When it was made, by the service's clock as far as that was known.
    pub made_at: Instant,
    /// Why the service would not have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

/// A fact that waits, and its file.
#[derive(Clone, Debug)]
pub struct Item {
    /// The fact.
    pub waiting: Waiting,
    /// Its place in the order.
    pub number: u64,
    path: PathBuf,
}

/// The outbox of a member, held by this run alone.
pub struct Outbox {
    folder: PathBuf,
    _lock: fs::File,
}

impl Outbox {
    /// Opens it and holds it until dropped; waits while another run holds it.
    ///
    /// # Errors
    /// The folder cannot be made or locked.
    pub fn open(folder: &Path) -> Result<Self, Failure> {
        let refused = |error: io::Error| {
            Failure::bad_input(format!("The outbox {} cannot be used: {error}.", folder.display()))
        };
        make_folder(&folder.join("refused")).map_err(refused)?;
        let lock =
            private().write(true).create(true).truncate(false).open(folder.join("lock")).map_err(refused)?;
        lock.lock().map_err(refused)?;
        Ok(Self { folder: folder.to_owned(), _lock: lock })
    }

    fn refused_folder(&self) -> PathBuf {
        self.folder.join("refused")
    }

    /// Keeps a fact. When this returns, a kill or a power cut no longer loses it.
    ///
    /// # Errors
    /// The disk refuses: then nothing is kept.
    pub fn keep(&self, waiting: Waiting) -> Result<Item, Failure> {
        let numbers = [numbers(&self.folder), numbers(&self.refused_folder())];
        let last = numbers.into_iter().flatten().max().unwrap_or_default();
        let number = last + 1;
        let path = self.folder.join(file_of(number));
        write(&path, &waiting)?;
        Ok(Item { waiting, number, path })
    }

    /// How many wait.
    pub fn count(&self) -> usize {
        count(&self.folder)
    }

    /// What waits, in order, and the files that cannot be read.
    pub fn waiting(&self) -> (Vec<Item>, Vec<String>) {
        read_all(&self.folder)
    }

    /// What the service would not have.
    pub fn refused(&self) -> (Vec<Item>, Vec<String>) {
        read_all(&self.refused_folder())
    }

    /// Takes out a fact that arrived.
    ///
    /// # Errors
    /// The disk refuses. Then it is sent once more, which does no harm.
    pub fn remove(&self, item: &Item) -> Result<(), Failure> {
        fs::remove_file(&item.path).and_then(|()| sync_folder(&self.folder)).map_err(|error| {
            Failure::bad_input(format!("{} cannot be removed: {error}.", item.path.display()))
        })
    }

    /// Puts a fact aside that the service would not have.
    ///
    /// # Errors
    /// The disk refuses. Then it stays where it is.
    pub fn put_aside(&self, item: &Item, why: &str) -> Result<(), Failure> {
        let aside = Waiting { refused: Some(why.to_owned()), ..item.waiting.clone() };
        let name = item.path.file_name().unwrap_or_default();
        write(&self.refused_folder().join(name), &aside)?;
        self.remove(item)
    }

    /// Lets what was put aside wait again, behind all else; gives how many these are.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn take_back(&self) -> Result<usize, Failure> {
        let (items, _) = self.refused();
        for item in &items {
            self.keep(Waiting { refused: None, ..item.waiting.clone() })?;
            self.remove(item)?;
        }
        Ok(items.len())
    }
}

fn write(path: &Path, waiting: &Waiting) -> Result<(), Failure> {
    let refused = |why: String| Failure::bad_input(format!("{} cannot be written: {why}.", path.display()));
    let text = serde_json::to_string(waiting).map_err(|error| refused(error.to_string()))?;
    write_whole(path, &text).map_err(|error| refused(error.to_string()))
}

fn file_of(number: u64) -> String {
    format!("{number:010}.json")
}

/// How many facts wait in the outbox of a folder.
pub fn count(folder: &Path) -> usize {
    numbers(folder).len()
}

/// The numbers of the files of a folder.
fn numbers(folder: &Path) -> Vec<u64> {
    let names = fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.file_name());
    names.filter_map(|name| name.to_str()?.strip_suffix(".json")?.parse().ok()).collect()
}

fn read_all(folder: &Path) -> (Vec<Item>, Vec<String>) {
    let mut numbers = numbers(folder);
    numbers.sort_unstable();
    let (mut items, mut broken) = (Vec::new(), Vec::new());
    for number in numbers {
        let path = folder.join(file_of(number));
        let read = fs::read_to_string(&path).map_err(|error| error.to_string());
        let read = read.and_then(|text| serde_json::from_str(&text).map_err(|error| error.to_string()));
        match read {
            Ok(waiting) => items.push(Item { waiting, number, path }),
            Err(why) => broken.push(format!("{} cannot be read and stays there: {why}.", path.display())),
        }
    }
    (items, broken)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fact(number: u32) -> Waiting {
        Waiting {
            noun: Noun::Flights,
            fact: Map::from_iter([("id".to_owned(), Value::from(number))]),
            what: format!("flight {number}"),
            made_at: Instant::from_micros(0),
            refused: None,
        }
    }

    fn texts(items: &[Item]) -> Vec<&str> {
        items.iter().map(|item| item.waiting.what.as_str()).collect()
    }

    #[test]
    fn facts_come_out_in_the_order_in_which_they_went_in() {
        let folder = std::env::temp_dir().join(format!("preen-outbox-{}", uuid::Uuid::now_v7()));
        {
            let outbox = Outbox::open(&folder).unwrap();
            for number in 1..=12 {
                outbox.keep(fact(number)).unwrap();
            }
            let (items, broken) = outbox.waiting();
            assert_eq!((items.len(), broken.len()), (12, 0));
            outbox.put_aside(&items[0], "too early").unwrap();
            outbox.remove(&items[1]).unwrap();
        }
        let outbox = Outbox::open(&folder).unwrap();
        let (items, _) = outbox.waiting();
        assert_eq!(texts(&items)[..2], ["flight 3", "flight 4"]);
        assert_eq!(outbox.refused().0[0].waiting.refused.as_deref(), Some("too early"));
        assert_eq!(outbox.take_back().unwrap(), 1);
        let (items, _) = outbox.waiting();
        assert_eq!(texts(&items).last(), Some(&"flight 1"));
        assert_eq!(outbox.refused().0.len(), 0);
        fs::write(folder.join("0000000003.json"), "{").unwrap();
        assert_eq!(outbox.waiting().1.len(), 1, "a file that cannot be read is told and kept");
        fs::remove_dir_all(&folder).unwrap();
    }
}
