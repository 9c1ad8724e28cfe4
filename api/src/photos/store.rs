//! The store of pictures: a folder or a bucket, behind one interface. Each club has a path of its own, so that no
//! digest leads into another club.

use std::error::Error as StdError;
use std::io;
use std::sync::Arc;
use std::time::Duration;

use object_store::aws::{AmazonS3Builder, AmazonS3ConfigKey};
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ClientOptions, Error, ObjectStore, ObjectStoreExt as _, PutPayload, RetryConfig};
use preen_domain::digest::Digest;
use preen_domain::facts::MOST_BYTES;

use super::place::{PhotoPlace, PlaceError};
use crate::problem::Problem;
use crate::watch::cut::cut;

/// How long one request to a bucket may take.
const ONE_REQUEST: Duration = Duration::from_secs(20);
/// How long it is tried again, all in all.
const ALL_TRIES: Duration = Duration::from_secs(30);
/// Tries after the first.
const MORE_TRIES: usize = 3;

/// Which of the two files of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The picture itself, whose digest names both.
    Whole,
    /// Its thumbnail.
    Thumbnail,
}

/// Why a picture could not be kept or read.
#[derive(Debug, thiserror::Error)]
pub enum StoreFault {
    /// No room.
    #[error("no room for a picture: {0}")]
    Full(String),
    /// It does not answer, or not as it should.
    #[error("the store of pictures: {0}")]
    Unreachable(String),
    /// What was kept is not there any more, or is something else.
    #[error("a picture is lost: {0}")]
    Lost(String),
}

impl From<StoreFault> for Problem {
    fn from(fault: StoreFault) -> Self {
        match fault {
            StoreFault::Full(_) => Self::StorageFull,
            StoreFault::Unreachable(_) => {
                tracing::warn!(fault = cut(&fault.to_string()), "a picture was neither kept nor read");
                Self::Busy
            }
            StoreFault::Lost(_) => Self::Internal(fault.to_string()),
        }
    }
}

impl From<Error> for StoreFault {
    fn from(error: Error) -> Self {
        if matches!(error, Error::NotFound { .. }) {
            return Self::Lost(error.to_string());
        }
        let text = error.to_string();
        let mut cause: Option<&(dyn StdError + 'static)> = Some(&error);
        while let Some(known) = cause {
            if known.downcast_ref::<io::Error>().is_some_and(is_out_of_room) {
                return Self::Full(text);
            }
            cause = known.source();
        }
        Self::Unreachable(text)
    }
}

/// Whether a file could not be written because there is no room for it.
pub fn is_out_of_room(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge
    )
}

/// Where pictures are kept.
pub struct Store {
    objects: Arc<dyn ObjectStore>,
    prefix: Path,
}

impl Store {
    /// Opens a folder, made if it is not there, or a bucket.
    pub fn open(place: &PhotoPlace) -> Result<Self, PlaceError> {
        let unusable = |error: String| PlaceError::Unusable(place.to_string(), error);
        match place {
            PhotoPlace::Folder(folder) => {
                std::fs::create_dir_all(folder).map_err(|error| unusable(error.to_string()))?;
                let files =
                    LocalFileSystem::new_with_prefix(folder).map_err(|error| unusable(error.to_string()))?;
                // Files and folders are on disk before a write is answered.
                Ok(Self { objects: Arc::new(files.with_fsync(true)), prefix: Path::default() })
            }
            PhotoPlace::Bucket { url, settings } => {
                let named = url.strip_prefix("s3://").unwrap_or(url);
                let (bucket, prefix) = named.split_once('/').unwrap_or((named, ""));
                let retry = RetryConfig {
                    max_retries: MORE_TRIES,
                    retry_timeout: ALL_TRIES,
                    ..RetryConfig::default()
                };
                let mut builder = AmazonS3Builder::new()
                    .with_client_options(ClientOptions::new().with_timeout(ONE_REQUEST))
                    .with_retry(retry)
                    // Files go one by one: few do, and not every store knows how to take many.
                    .with_disable_bulk_delete(true)
                    .with_bucket_name(bucket);
                for (name, value) in settings {
                    // Other programs have settings of their own under such names.
                    if let Ok(key) = name.to_ascii_lowercase().parse::<AmazonS3ConfigKey>()
                        && key != AmazonS3ConfigKey::Bucket
                    {
                        builder = builder.with_config(key, value);
                    }
                }
                let bucket = builder.build().map_err(|error| unusable(error.to_string()))?;
                Ok(Self { objects: Arc::new(bucket), prefix: Path::from(prefix) })
            }
        }
    }

    /// Shows that it can be written and read, before anybody relies on it.
    pub async fn prove(&self) -> Result<(), StoreFault> {
        let (mark, sign) = (self.prefix.clone().join("preen-photos"), "Photos of clubs are kept here.\n");
        self.objects.put(&mark, PutPayload::from_static(sign.as_bytes())).await?;
        self.objects.get(&mark).await?.bytes().await?;
        Ok(())
    }

    fn path(&self, club: &str, digest: &Digest, which: Which) -> Path {
        let name = match which {
            Which::Whole => format!("{digest}.jpg"),
            Which::Thumbnail => format!("{digest}-thumbnail.jpg"),
        };
        // A folder for each two first digits: some file systems are slow with many files in one.
        let shelf = digest.as_str().get(..2).unwrap_or_default().to_owned();
        self.prefix.clone().join(club).join(shelf).join(name)
    }

    /// Keeps one file. It is durable when this returns.
    pub async fn put(
        &self,
        club: &str,
        digest: &Digest,
        which: Which,
        bytes: Vec<u8>,
    ) -> Result<(), StoreFault> {
        self.objects.put(&self.path(club, digest, which), PutPayload::from(bytes)).await?;
        Ok(())
    }

    /// Reads one file.
    pub async fn get(&self, club: &str, digest: &Digest, which: Which) -> Result<Vec<u8>, StoreFault> {
        let found = self.objects.get(&self.path(club, digest, which)).await?;
        // Whoever keeps them may send anything; no picture is longer.
        if found.meta.size > u64::from(MOST_BYTES) {
            return Err(StoreFault::Lost(format!("what is kept as {digest} has {} bytes", found.meta.size)));
        }
        Ok(found.bytes().await?.to_vec())
    }

    /// Whether a file is there.
    pub async fn has(&self, club: &str, digest: &Digest, which: Which) -> Result<bool, StoreFault> {
        match self.objects.head(&self.path(club, digest, which)).await {
            Ok(_) => Ok(true),
            Err(Error::NotFound { .. }) => Ok(false),
            Err(error) => Err(error.into()),
        }
    }

    /// Throws a file away; one that is not there is as good as gone.
    pub async fn delete(&self, club: &str, digest: &Digest, which: Which) -> Result<(), StoreFault> {
        match self.objects.delete(&self.path(club, digest, which)).await {
            Ok(()) | Err(Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }
}
