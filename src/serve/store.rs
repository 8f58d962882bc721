//! Where plans are kept: one SQLite file, bounded by count, age and size for each space.
//!
//! A plan is written when it is asked for and again when it ends, so that a service that stops in between finds it
//! again. Everything here blocks: callers on async threads go through `web::block`. A plan of another space is not
//! there; nothing in this file answers without a space but what the service does for itself.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use rusqlite::{Connection, OptionalExtension, Row, params};

use super::request::{Files, Search};
use super::settings::Keep;
use super::state::{Best, State};
use super::tokens::Space;

/// The layout of the file this version writes.
const VERSION: i64 = 1;
/// A plan that was begun this often and never ended has taken the service down with it, and is not begun again.
const MOST_ATTEMPTS: i64 = 2;

const LAYOUT: &str = "
    CREATE TABLE plans (
        id TEXT PRIMARY KEY,
        space TEXT NOT NULL,
        created INTEGER NOT NULL,
        ended INTEGER,
        attempts INTEGER NOT NULL DEFAULT 0,
        state TEXT NOT NULL,
        job TEXT NOT NULL,
        pile TEXT NOT NULL,
        shop TEXT,
        search TEXT NOT NULL,
        best TEXT,
        plan TEXT,
        problem TEXT,
        bytes INTEGER NOT NULL
    ) STRICT;
    CREATE INDEX plans_by_age ON plans (space, ended);
    CREATE TABLE keys (
        space TEXT NOT NULL,
        key TEXT NOT NULL,
        digest BLOB NOT NULL,
        plan TEXT NOT NULL REFERENCES plans (id) ON DELETE CASCADE,
        PRIMARY KEY (space, key)
    ) STRICT;
    CREATE INDEX keys_by_plan ON keys (plan);
";

/// Why the store does not do what it should.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    #[error("the store cannot be used: {0}")]
    Database(#[from] rusqlite::Error),
    #[error("cannot open the store {}: {source}; is the folder there, may you write in it, and does no other service use it?", path.display())]
    Open { path: PathBuf, source: rusqlite::Error },
    #[error("{} was written by another version (layout {found}, this one writes {VERSION})", path.display())]
    Version { path: PathBuf, found: i64 },
    #[error("the store holds something this version cannot read: {0}")]
    Content(#[from] serde_json::Error),
}

/// A plan as it is kept.
#[derive(Clone, Debug)]
pub struct Kept {
    pub id: String,
    pub space: Space,
    /// Milliseconds since 1970.
    pub created: u64,
    pub ended: Option<u64>,
    pub state: State,
    pub files: Files,
    pub search: Search,
    pub best: Option<Best>,
    /// The plan file, byte for byte.
    pub plan: Option<String>,
    /// A problem document.
    pub problem: Option<String>,
}

/// How a plan ended.
#[derive(Clone, Debug)]
pub struct Ended {
    pub state: State,
    pub best: Option<Best>,
    pub plan: Option<String>,
    pub problem: Option<String>,
}

/// What a client's key stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key {
    pub text: String,
    /// Of the request it was used for.
    pub digest: [u8; 32],
}

/// The store.
pub struct Store {
    connection: Mutex<Connection>,
    keep: Keep,
}

impl Store {
    /// Opens the store, made if need be, with file permissions for its owner alone; in memory without a path.
    ///
    /// # Errors
    /// When it cannot be opened or written, is in use, or comes from another version.
    pub fn open(path: Option<&Path>, keep: Keep) -> Result<Store, StoreError> {
        let named = path.unwrap_or(Path::new(":memory:")).to_owned();
        let failed = |source| StoreError::Open { path: named.clone(), source };
        if let Some(path) = path {
            own(path);
        }
        let connection = match path {
            Some(path) => Connection::open(path),
            None => Connection::open_in_memory(),
        }
        .map_err(failed)?;
        connection.busy_timeout(Duration::from_secs(2)).map_err(failed)?;
        // One service a store: a second one would make the same plans again.
        connection
            .execute_batch(
                "PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; \
                 PRAGMA foreign_keys = ON; PRAGMA secure_delete = OFF;",
            )
            .map_err(failed)?;
        let found: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(failed)?;
        match found {
            0 => connection
                .execute_batch(&format!("BEGIN; {LAYOUT} PRAGMA user_version = {VERSION}; COMMIT;"))
                .map_err(failed)?,
            VERSION => {}
            found => return Err(StoreError::Version { path: named, found }),
        }
        Ok(Store { connection: Mutex::new(connection), keep })
    }

    /// A panic while the store was held left no transaction open, so the store is still good.
    fn lock(&self) -> MutexGuard<'_, Connection> {
        self.connection.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// Keeps a plan that is to be made, and the key it was asked for under.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert(&self, plan: &Kept, key: Option<&Key>) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let transaction = connection.transaction()?;
        let files = &plan.files;
        let bytes = files.job.len() + files.pile.len() + files.shop.as_ref().map_or(0, String::len);
        transaction
            .prepare_cached(
                "INSERT INTO plans (id, space, created, state, job, pile, shop, search, bytes) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute(params![
                plan.id,
                &*plan.space.0,
                plan.created as i64,
                plan.state.word(),
                files.job,
                files.pile,
                files.shop,
                serde_json::to_string(&plan.search)?,
                bytes as i64
            ])?;
        if let Some(key) = key {
            transaction
                .prepare_cached("INSERT INTO keys (space, key, digest, plan) VALUES (?1, ?2, ?3, ?4)")?
                .execute(params![&*plan.space.0, key.text, key.digest, plan.id])?;
        }
        transaction.commit()?;
        Ok(())
    }

    /// The plan a key was used for, and the digest of the request.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn by_key(&self, space: &Space, key: &str) -> Result<Option<(String, [u8; 32])>, StoreError> {
        let connection = self.lock();
        let mut found = connection.prepare_cached("SELECT plan, digest FROM keys WHERE space = ?1 AND key = ?2")?;
        Ok(found.query_row(params![&*space.0, key], |row| Ok((row.get(0)?, row.get(1)?))).optional()?)
    }

    /// Notes that a plan is begun.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn begin(&self, id: &str) -> Result<(), StoreError> {
        let connection = self.lock();
        connection
            .prepare_cached("UPDATE plans SET state = ?2, attempts = attempts + 1 WHERE id = ?1")?
            .execute(params![id, State::Working.word()])?;
        Ok(())
    }

    /// Keeps how a plan ended, and lets go of what is beyond the bounds of its space.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn end(&self, id: &str, space: &Space, ended: &Ended) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let transaction = connection.transaction()?;
        let best = ended.best.as_ref().map(serde_json::to_string).transpose()?;
        let more = ended.plan.as_ref().map_or(0, String::len) + ended.problem.as_ref().map_or(0, String::len);
        transaction
            .prepare_cached(
                "UPDATE plans SET state = ?2, ended = ?3, best = ?4, plan = ?5, problem = ?6, bytes = bytes + ?7 \
                 WHERE id = ?1",
            )?
            .execute(params![id, ended.state.word(), now() as i64, best, ended.plan, ended.problem, more as i64])?;
        trim(&transaction, space, &self.keep)?;
        transaction.commit()?;
        Ok(())
    }

    /// Forgets a plan and its key.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn forget(&self, id: &str) -> Result<(), StoreError> {
        self.lock().prepare_cached("DELETE FROM plans WHERE id = ?1")?.execute(params![id])?;
        Ok(())
    }

    /// A plan of this space.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn get(&self, space: &Space, id: &str) -> Result<Option<Kept>, StoreError> {
        let connection = self.lock();
        let mut found = connection.prepare_cached("SELECT * FROM plans WHERE space = ?1 AND id = ?2")?;
        found.query_row(params![&*space.0, id], kept).optional()?.transpose()
    }

    /// Plans that were asked for and not ended when the service last stopped, the oldest first. Those that were begun
    /// too often are ended here instead.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn left_over(&self, gave_up: &str) -> Result<Vec<Kept>, StoreError> {
        let connection = self.lock();
        connection.execute(
            "UPDATE plans SET state = ?1, ended = ?2, problem = ?3 WHERE ended IS NULL AND attempts >= ?4",
            params![State::Failed.word(), now() as i64, gave_up, MOST_ATTEMPTS],
        )?;
        let mut found = connection.prepare("SELECT * FROM plans WHERE ended IS NULL ORDER BY created, id")?;
        found.query_map([], kept)?.map(|row| row?).collect()
    }

    /// A plan that was begun and then stopped with the service, and not by its own fault.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_back(&self, id: &str) -> Result<(), StoreError> {
        self.lock()
            .prepare_cached("UPDATE plans SET state = ?2, attempts = max(attempts - 1, 0) WHERE id = ?1")?
            .execute(params![id, State::Waiting.word()])?;
        Ok(())
    }

    /// Lets go of plans that are too old. Returns how many.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn sweep(&self) -> Result<usize, StoreError> {
        let eldest = now().saturating_sub(self.keep.age.as_millis() as u64);
        Ok(self.lock().execute("DELETE FROM plans WHERE ended IS NOT NULL AND ended < ?1", params![eldest as i64])?)
    }

    /// True when the store can be read.
    pub fn answers(&self) -> bool {
        self.lock().query_row("SELECT count(*) FROM keys WHERE space = ''", [], |row| row.get::<_, i64>(0)).is_ok()
    }
}

/// Lets go of the oldest finished plans of a space beyond its count and size.
fn trim(connection: &Connection, space: &Space, keep: &Keep) -> Result<(), rusqlite::Error> {
    connection
        .prepare_cached(
            "DELETE FROM plans WHERE id IN (SELECT id FROM (\
                 SELECT id, row_number() OVER newest AS place, sum(bytes) OVER newest AS size \
                 FROM plans WHERE space = ?1 AND ended IS NOT NULL \
                 WINDOW newest AS (ORDER BY ended DESC, id ROWS UNBOUNDED PRECEDING)) \
             WHERE place > ?2 OR size > ?3)",
        )?
        .execute(params![&*space.0, keep.plans, i64::try_from(keep.bytes).unwrap_or(i64::MAX)])?;
    Ok(())
}

fn kept(row: &Row<'_>) -> rusqlite::Result<Result<Kept, StoreError>> {
    let space: String = row.get("space")?;
    let state: String = row.get("state")?;
    let (search, best): (String, Option<String>) = (row.get("search")?, row.get("best")?);
    let plan = Kept {
        id: row.get("id")?,
        space: Space(space.into()),
        created: row.get::<_, i64>("created")? as u64,
        ended: row.get::<_, Option<i64>>("ended")?.map(|time| time as u64),
        state: State::Waiting,
        files: Files { job: row.get("job")?, pile: row.get("pile")?, shop: row.get("shop")? },
        search: Search { seconds: None, work: None, gap: 0.0, seed: 0 },
        best: None,
        plan: row.get("plan")?,
        problem: row.get("problem")?,
    };
    let read = || -> Result<Kept, StoreError> {
        Ok(Kept {
            state: serde_json::from_value(state.into())?,
            search: serde_json::from_str(&search)?,
            best: best.as_deref().map(serde_json::from_str).transpose()?,
            ..plan
        })
    };
    Ok(read())
}

/// Makes the file with permissions for its owner alone, if it is not there. When that fails, opening it says why.
fn own(path: &Path) {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let _ = options.open(path);
}

/// Milliseconds since 1970.
pub fn now() -> u64 {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_millis() as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keep() -> Keep {
        Keep { plans: 3, age: Duration::from_secs(3600), bytes: 10_000 }
    }

    fn plan(id: &str, space: &str) -> Kept {
        Kept {
            id: id.to_owned(),
            space: Space(space.into()),
            created: now(),
            ended: None,
            state: State::Waiting,
            files: Files { job: "{}".to_owned(), pile: "{}".to_owned(), shop: None },
            search: Search { seconds: Some(1.5), work: None, gap: 0.01, seed: 7 },
            best: None,
            plan: None,
            problem: None,
        }
    }

    fn done(text: &str) -> Ended {
        Ended { state: State::Done, best: None, plan: Some(text.to_owned()), problem: None }
    }

    #[test]
    fn a_plan_survives_a_restart_and_belongs_to_its_space() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plans.db");
        let key = Key { text: "k".to_owned(), digest: [7; 32] };
        {
            let store = Store::open(Some(&path), keep()).unwrap();
            let north = plan("a", "north");
            store.insert(&north, Some(&key)).unwrap();
            store.end("a", &north.space, &done("the plan")).unwrap();
        }
        let store = Store::open(Some(&path), keep()).unwrap();
        let north = Space("north".into());
        let found = store.get(&north, "a").unwrap().unwrap();
        assert_eq!((found.state, found.plan.as_deref()), (State::Done, Some("the plan")));
        assert_eq!(found.search, plan("a", "north").search);
        assert!(store.get(&Space("south".into()), "a").unwrap().is_none());
        assert_eq!(store.by_key(&north, "k").unwrap(), Some(("a".to_owned(), [7; 32])));
        assert!(store.by_key(&Space("south".into()), "k").unwrap().is_none());
        assert!(store.left_over("").unwrap().is_empty());
    }

    #[test]
    fn a_store_in_use_is_not_opened_twice() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plans.db");
        let _first = Store::open(Some(&path), keep()).unwrap();
        assert!(matches!(Store::open(Some(&path), keep()), Err(StoreError::Open { .. })));
    }

    #[cfg(unix)]
    #[test]
    fn nobody_but_its_owner_reads_the_store() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plans.db");
        let _store = Store::open(Some(&path), keep()).unwrap();
        for entry in std::fs::read_dir(folder.path()).unwrap() {
            let entry = entry.unwrap();
            assert_eq!(entry.metadata().unwrap().permissions().mode() & 0o077, 0, "{:?}", entry.path());
        }
    }

    #[test]
    fn the_oldest_finished_plans_go_first_and_other_spaces_keep_theirs() {
        let store = Store::open(None, keep()).unwrap();
        for (at, id) in ["a", "b", "c", "d", "e"].iter().enumerate() {
            store.insert(&plan(id, "north"), None).unwrap();
            store.end(id, &Space("north".into()), &done("x")).unwrap();
            store.lock().execute("UPDATE plans SET ended = ?1 WHERE id = ?2", params![at as i64, id]).unwrap();
        }
        let south = plan("s", "south");
        store.insert(&south, None).unwrap();
        store.end("s", &south.space, &done("x")).unwrap();
        let there = |space: &str, id| store.get(&Space(space.into()), id).unwrap().is_some();
        assert!(there("south", "s") && there("north", "e") && there("north", "d"));
        assert!(!there("north", "a"));
    }

    #[test]
    fn a_space_has_a_size() {
        let store = Store::open(None, keep()).unwrap();
        for id in ["a", "b"] {
            store.insert(&plan(id, "north"), None).unwrap();
            store.end(id, &Space("north".into()), &done(&"x".repeat(6_000))).unwrap();
        }
        let there = |id| store.get(&Space("north".into()), id).unwrap().is_some();
        assert_eq!(usize::from(there("a")) + usize::from(there("b")), 1);
    }

    #[test]
    fn what_is_too_old_is_swept_away_with_its_key() {
        let store = Store::open(None, keep()).unwrap();
        let old = plan("a", "north");
        store.insert(&old, Some(&Key { text: "k".to_owned(), digest: [0; 32] })).unwrap();
        store.end("a", &old.space, &done("x")).unwrap();
        assert_eq!(store.sweep().unwrap(), 0);
        store.lock().execute("UPDATE plans SET ended = 5", []).unwrap();
        assert_eq!(store.sweep().unwrap(), 1);
        assert_eq!(store.by_key(&old.space, "k").unwrap(), None);
    }

    #[test]
    fn a_plan_that_takes_the_service_down_twice_is_not_begun_again() {
        let store = Store::open(None, keep()).unwrap();
        store.insert(&plan("a", "north"), None).unwrap();
        store.begin("a").unwrap();
        assert_eq!(store.left_over("gave up").unwrap().len(), 1);
        store.begin("a").unwrap();
        assert!(store.left_over("gave up").unwrap().is_empty());
        let found = store.get(&Space("north".into()), "a").unwrap().unwrap();
        assert_eq!((found.state, found.problem.as_deref()), (State::Failed, Some("gave up")));
    }
}
