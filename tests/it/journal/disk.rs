//! Disks that are full and folders that may not be written.

use std::process::Command;

use spyhole::testing::edge::journal::{ReadOnly, schema};

use super::*;

/// A small disk, unmounted when dropped.
pub(crate) struct SmallDisk(TempDir);

impl SmallDisk {
    /// Needs the right to mount, which a container's root and a CI machine have; `None` only where
    /// `SPYHOLE_NO_MOUNT=1` says that this machine does not give it.
    pub(crate) fn mount(megabytes: u32) -> Option<SmallDisk> {
        if std::env::var_os("SPYHOLE_NO_MOUNT").is_some_and(|value| value == "1") {
            return None;
        }
        let folder = tempfile::tempdir().unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={megabytes}m"), "none"])
            .arg(folder.path())
            .output()
            .expect("mount is installed, or SPYHOLE_NO_MOUNT=1 is set");
        let said = String::from_utf8_lossy(&mount.stderr);
        assert!(mount.status.success(), "{said}SPYHOLE_NO_MOUNT=1 leaves out what needs a disk");
        Some(SmallDisk(folder))
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).status();
    }
}

/// Writes until the disk is full, checks that nothing is half there, makes room and goes on.
fn fill_and_go_on(folder: &Path) {
    let ballast = folder.join("ballast");
    fs::write(&ballast, vec![7; 300_000]).unwrap();
    let path = folder.join("shop.db");
    let mut journal = begun(&path);
    let firing = Some(light(&mut journal, "North"));
    let text = "a long remark ".repeat(300);
    let mut written = 1;
    let error = loop {
        let note = event(firing, minutes(written), What::Note { text: text.clone() });
        match journal.append_checked(&note, minutes(written)) {
            Ok(_) => written += 1,
            Err(error) => break error,
        }
        assert!(written < 10_000, "the disk never became full");
    };
    assert_eq!(
        error.to_string(),
        format!(
            "the disk is full, so nothing was written: make room beside {} and do it again; everything written before is safe",
            path.display()
        )
    );
    // Reading goes on, in this process and in another.
    assert_eq!(journal.shop().unwrap().open.len(), 1);
    assert_eq!(journal.last_event().unwrap(), Some(EventId(written)));
    fs::remove_file(ballast).unwrap();
    let off = event(firing, minutes(written), What::Off);
    let id = journal.append_checked(&off, minutes(written)).unwrap().id;
    assert_eq!(id, EventId(written + 1));
    assert!(journal.check().unwrap().is_whole());
}

#[test]
fn law_a_full_disk_is_named_and_writing_goes_on_when_there_is_room() {
    if let Some(disk) = SmallDisk::mount(1) {
        fill_and_go_on(disk.path());
    }
}

#[test]
fn law_a_full_disk_does_not_stop_the_screen() {
    let Some(disk) = SmallDisk::mount(1) else { return };
    let ballast = disk.path().join("ballast");
    fs::write(&ballast, vec![7; 300_000]).unwrap();
    let path = disk.path().join("shop.db");
    let mut journal = begun(&path);
    let firing = light(&mut journal, "North");
    drop(journal);
    let mut shop = KeptShop::open(&path, "Ida".into(), PATIENCE, minutes(0)).unwrap();
    let note = |n: i64| {
        Entry::new(
            About::Firing(firing),
            minutes(n),
            What::Note { text: format!("{n}: {}", "a long remark ".repeat(300)) },
        )
    };
    let full = (1..10_000).find(|n| shop.append(&note(*n), minutes(*n)).is_err()).unwrap();
    let again = shop.append(&note(full), minutes(full)).unwrap_err().to_string();
    assert!(again.starts_with("the disk is full, so nothing was written"), "{again}");
    let notes = |shop: &mut KeptShop| {
        shop.changed(minutes(full)).unwrap();
        shop.snapshot(minutes(full)).unwrap().shop.open[0].notes.len() as i64
    };
    assert_eq!(notes(&mut shop), full - 1);
    fs::remove_file(&ballast).unwrap();
    shop.append(&note(full), minutes(full)).unwrap();
    assert_eq!(notes(&mut shop), full, "written once");
}

#[test]
fn law_a_file_size_limit_is_named_and_nothing_is_half_written() {
    const SELF: &str = "journal::disk::law_a_file_size_limit_is_named_and_nothing_is_half_written";
    const CHILD: &str = "SPYHOLE_LIMITED_CHILD";
    if let Ok(path) = std::env::var(CHILD) {
        let mut journal = begun(Path::new(&path));
        let firing = Some(light(&mut journal, "North"));
        for n in 1..10_000 {
            let note = event(firing, minutes(n), What::Note { text: "remark ".repeat(500) });
            if let Err(error) = journal.append(&note, minutes(n)) {
                assert!(matches!(
                    error,
                    JournalError::NotWritable { .. } | JournalError::DiskFull { .. }
                ));
                assert_eq!(journal.last_event().unwrap(), Some(EventId(n)));
                return;
            }
        }
        panic!("the limit was never reached");
    }
    let (_folder, path) = shop_file();
    let status = Command::new("sh")
        .args(["-c", "trap '' XFSZ; ulimit -f 400; exec \"$0\" --exact \"$1\""])
        .arg(std::env::current_exe().unwrap())
        .arg(SELF)
        .env(CHILD, &path)
        .status()
        .unwrap();
    assert!(status.success());
    assert!(Journal::open(&path).unwrap().check().unwrap().is_whole());
}

#[test]
fn law_a_folder_that_cannot_be_made_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    fs::write(&file, "not a folder").unwrap();
    let begun = Journal::begin(&file.join("shop.db"), &[], minutes(0));
    let error = begun.unwrap_err().to_string();
    assert!(error.contains("cannot be opened"), "{error}");
    assert!(error.contains("check that the folder is there"), "{error}");
}

/// Root may write anywhere, so a disk mounted for reading only stands for the missing right.
#[test]
fn law_a_read_only_disk_is_read_and_says_so_on_writing() {
    let Some(disk) = SmallDisk::mount(1) else { return };
    let path = disk.path().join("shop.db");
    let mut journal = begun(&path);
    let firing = Some(light(&mut journal, "North"));
    drop(journal);
    let remount = |how: &str| {
        let status = Command::new("mount").args(["-o", how]).arg(disk.path()).status().unwrap();
        assert!(status.success());
    };
    remount("remount,ro");
    let mut journal = Journal::open(&path).unwrap();
    assert_eq!(journal.read_only(), Some(ReadOnly::NoPermission));
    assert_eq!(journal.shop().unwrap().open.len(), 1);
    let error = journal.append(&event(firing, minutes(5), What::Off), minutes(5)).unwrap_err();
    assert!(matches!(error, JournalError::NotWritable { .. }), "{error}");
    assert!(error.to_string().contains("allow writing to the file and to its folder"), "{error}");
    drop(journal);
    remount("remount,rw");
    let mut journal = Journal::open(&path).unwrap();
    put(&mut journal, firing, 5, What::Off);
}

#[test]
fn law_a_newer_file_is_read_and_never_written() {
    let (_folder, path, mut journal) = new_shop();
    let firing = Some(light(&mut journal, "North"));
    drop(journal);
    let raw = rusqlite::Connection::open(&path).unwrap();
    raw.pragma_update(None, "user_version", schema::VERSION + 1).unwrap();
    drop(raw);
    let mut journal = Journal::open(&path).unwrap();
    assert_eq!(journal.read_only(), Some(ReadOnly::Newer { found: schema::VERSION + 1 }));
    assert_eq!(journal.shop().unwrap().open.len(), 1);
    let error = journal.append(&event(firing, minutes(5), What::Off), minutes(5)).unwrap_err();
    assert!(error.to_string().contains("written by a newer Spyhole"), "{error}");
    assert_eq!(journal.last_event().unwrap(), Some(EventId(1)));
}

#[test]
fn law_another_programs_file_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.db");
    let raw = rusqlite::Connection::open(&path).unwrap();
    raw.execute_batch("CREATE TABLE recipes (name TEXT)").unwrap();
    drop(raw);
    let before = fs::read(&path).unwrap();
    let error = Journal::open(&path).unwrap_err();
    assert!(matches!(error, JournalError::NotAShop { .. }), "{error}");
    assert_eq!(fs::read(&path).unwrap(), before);
}
