//! Where the shop's file is.

use std::env;
use std::path::PathBuf;

use etcetera::BaseStrategy;
use etcetera::base_strategy::Xdg;

/// The name of the environment variable that names another shop file.
pub const VARIABLE: &str = "SPYHOLE_SHOP";

#[derive(Debug, thiserror::Error)]
#[error(
    "there is no home folder to keep the shop's file in: name a file with --shop FILE or {VARIABLE}=FILE"
)]
pub struct NoHome;

/// The file to use: the one named, or the one in `SPYHOLE_SHOP`, or `spyhole/shop.db` in the XDG
/// data folder. It need not exist.
///
/// # Errors
/// [`NoHome`] when no file is named and there is no home folder.
pub fn resolve(named: Option<PathBuf>) -> Result<PathBuf, NoHome> {
    let from_variable = || env::var_os(VARIABLE).filter(|name| !name.is_empty()).map(PathBuf::from);
    match named.or_else(from_variable) {
        Some(path) => Ok(path),
        None => Ok(Xdg::new().map_err(|_| NoHome)?.data_dir().join("spyhole").join("shop.db")),
    }
}
