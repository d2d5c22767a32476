//! Where blocks go: one or more files of one table, written here or on a second thread.

use super::csv::CsvTable;
use super::folder::{HashedFile, Shelf};
use super::parquet::ParquetTable;
use super::table::{Block, Column};
use super::{Facts, Format};
use std::io;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// One file of a table.
enum File {
    Csv(Box<CsvTable<HashedFile>>),
    Parquet(Box<ParquetTable<HashedFile>>),
}

impl File {
    fn write(&mut self, block: &Block) -> io::Result<()> {
        match self {
            Self::Csv(table) => table.write(block),
            Self::Parquet(table) => table.write(block),
        }
    }

    fn finish(self) -> io::Result<HashedFile> {
        match self {
            Self::Csv(table) => table.finish(),
            Self::Parquet(table) => table.finish(),
        }
    }
}

fn open(
    folder: &Shelf,
    name: &str,
    columns: &[Column],
    formats: &[Format],
    facts: &Facts,
) -> io::Result<Vec<File>> {
    formats
        .iter()
        .map(|format| {
            let file = folder.create(&format!("{name}.{}", format.extension()))?;
            Ok(match format {
                Format::Csv => File::Csv(Box::new(CsvTable::new(file, columns)?)),
                Format::Parquet => {
                    File::Parquet(Box::new(ParquetTable::new(file, columns, facts)?))
                }
            })
        })
        .collect()
}

fn write(files: &mut [File], block: &Block) -> io::Result<()> {
    files.iter_mut().try_for_each(|file| file.write(block))
}

fn finish(files: Vec<File>) -> io::Result<Vec<HashedFile>> {
    files.into_iter().map(File::finish).collect()
}

/// The files of one table, and the block that fills up for them.
pub(super) struct TableWriter {
    block: Block,
    target: Target,
}

enum Target {
    Here(Vec<File>),
    Elsewhere {
        full: SyncSender<Block>,
        empty: Receiver<Block>,
        thread: JoinHandle<io::Result<Vec<HashedFile>>>,
    },
}

/// The other thread has ended early; its own error is found when it is joined.
fn gone<E>(_: E) -> io::Error {
    io::Error::other("the writing thread has stopped")
}

impl TableWriter {
    /// Open the files of a table in a folder.
    pub(super) fn new(
        folder: &Shelf,
        name: &str,
        columns: &[Column],
        formats: &[Format],
        facts: &Facts,
        background: bool,
    ) -> io::Result<Self> {
        let mut files = open(folder, name, columns, formats, facts)?;
        let block = Block::new(columns);
        if !background {
            return Ok(Self {
                block,
                target: Target::Here(files),
            });
        }
        let (full, to_write) = sync_channel::<Block>(1);
        let (give_back, empty) = sync_channel::<Block>(2);
        // Two blocks go round: one fills while the other is written.
        give_back.send(Block::new(columns)).map_err(gone)?;
        let thread = std::thread::spawn(move || {
            for mut block in to_write {
                write(&mut files, &block)?;
                block.clear();
                // Nobody takes blocks back once the last one has been handed over.
                let _ = give_back.send(block);
            }
            finish(files)
        });
        Ok(Self {
            block,
            target: Target::Elsewhere {
                full,
                empty,
                thread,
            },
        })
    }

    /// The block to fill, one row at a time; call [`Self::row_done`] after each.
    pub(super) fn block(&mut self) -> &mut Block {
        &mut self.block
    }

    /// A row is complete; a full block is written.
    pub(super) fn row_done(&mut self) -> io::Result<()> {
        if self.block.is_full() {
            self.hand_over()?;
        }
        Ok(())
    }

    fn hand_over(&mut self) -> io::Result<()> {
        match &mut self.target {
            Target::Here(files) => {
                write(files, &self.block)?;
                self.block.clear();
            }
            Target::Elsewhere { full, empty, .. } => {
                let next = empty.recv().map_err(gone)?;
                let filled = std::mem::replace(&mut self.block, next);
                full.send(filled).map_err(gone)?;
            }
        }
        Ok(())
    }

    /// Write what is left and close the files.
    pub(super) fn finish(mut self) -> io::Result<Vec<HashedFile>> {
        let last = if self.block.rows() > 0 {
            self.hand_over()
        } else {
            Ok(())
        };
        match self.target {
            Target::Here(files) => last.and_then(|()| finish(files)),
            Target::Elsewhere { full, thread, .. } => {
                drop(full);
                let files = thread
                    .join()
                    .map_err(|_| io::Error::other("the writing thread failed"))??;
                last.map(|()| files)
            }
        }
    }
}
