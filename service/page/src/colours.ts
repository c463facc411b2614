// One colour a group of kinds. Neighbouring groups differ in lightness as well as in hue, so that they can be told
// apart with any colour vision and in grey; the legend and the lists name them in words all the same.

export const COLOURS: Record<string, number> = {
  planar_face: 0xc9cdd2,
  outside_profile: 0x9aa3ad,
  step: 0x9ecae9,
  slot: 0x3f8fd2,
  open_pocket: 0x1f5fa8,
  closed_pocket: 0x12876f,
  boss: 0x8fd3bd,
  round_hole: 0xf2b134,
  counterbore_hole: 0xd9691e,
  countersunk_hole: 0xa8480f,
  stepped_hole: 0x7a2f0b,
  chamfer: 0xe9dfa0,
  edge_round: 0xd8c765,
  undercut: 0x8e4a9c,
  region: 0xcfa3d6,
  enclosed_void: 0x1c1c1c,
};
// A workpiece: raw, cut in an earlier setup, cut in this one; what stays and what is gouged.
export const RAW = 0xd9c9a8;
export const EARLIER = 0xe4e6e9;
export const NOW = 0x8fc1e3;
export const STAYS = 0xd55e00;
export const GOUGED = 0x1c1c1c;
// Two revisions: the set of Okabe and Ito, which people who see few colours tell apart.
export const CHANGES = { unchanged: 0xdfe2e6, added: 0x0072b2, removed: 0xd55e00, moved: 0xcc79a7, resized: 0xf0e442 };
export const IN_THE_WAY = 0x1c1c1c;
export const UNKNOWN = 0xffffff;
export const CHOSEN = 0xff2d6f;
export const css = (colour: number): string => `#${colour.toString(16).padStart(6, "0")}`;
