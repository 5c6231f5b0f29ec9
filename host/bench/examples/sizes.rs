use dipsift_bench::stored::*;
use dipsift_language::Library;
fn main(){
 let library=Library::builtin();
 let caps=dipsift_nucleo_f429zi::fixture::capabilities(dipsift_nucleo_f429zi::clocking::Clocking::External);
 let mut all=vec![];
 for (part,family) in usual_stored(&library){
  match stored_program(&part,family,&caps){
   Ok(p)=>{ println!("{} phases {} windows {:?} bytes {:?}",p.name,p.phases.len(),p.phases.iter().map(|p|p.windows.len()).collect::<Vec<_>>(),p.phases.iter().map(|p|p.windows.iter().map(Vec::len).sum::<usize>()).collect::<Vec<_>>()); all.push(p)},
   Err(e)=>println!("{}: {:?}",e.name,e.sentences)}
 }
 std::fs::write("firmware/boards/nucleo-f429zi/stored.bin",blob(&all).unwrap()).unwrap();
 println!("{} programs, {} bytes",all.len(),blob(&all).unwrap().len());
}
