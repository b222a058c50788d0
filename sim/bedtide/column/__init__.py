"""The bed as a column of cells beside its store of open water, and its step, compiled."""

from bedtide.column.cells import Cells, cells_of, faces_of
from bedtide.column.hydraulics import mix_table, node_suctions
from bedtide.column.many import AIR_DRY, at_rest, layouts_of, move, stacked_mixes
from bedtide.column.run import FIGURES, Beds, Columns, Days, Mixes, States
