// The part in three dimensions on a plain 2-D canvas: quads sorted by depth, so that it needs no graphics card and no
// WebGL.  It draws what it is given (mm) and turns it; every word and every choice comes from the server.
const FIRST = { yaw: -0.7, pitch: 0.5, zoom: 1 };
const STEP = Math.PI / 24;
const LIGHT = [0.35, 0.5, 0.79];

export default {
  template: `<canvas ref="canvas" tabindex="0" role="img" class="solid" @pointerdown="down" @pointermove="move"
    @pointerup="up" @pointercancel="up" @keydown="key" @wheel="wheel"></canvas>`,
  props: { mesh: Object, first: String, enlarged: Number, colours: Array },
  mounted() {
    Object.assign(this, FIRST, { state: this.first, factor: this.enlarged, label: "" });
    this.fingers = new Map();
    this.watcher = new ResizeObserver(() => this.later());
    this.watcher.observe(this.$refs.canvas);
    this.build();
  },
  unmounted() {
    this.watcher.disconnect();
  },
  methods: {
    // Another state or enlargement: the mesh is here already.
    show(state, factor, label) {
      Object.assign(this, { state, factor, label });
      this.build();
    },
    // From displacements of half a jaw pitch to corners and quads all round the part.
    build() {
      const { angle, jaws, strips } = this.mesh;
      const half = angle.length - 1;
      const round = 2 * jaws * half;
      this.corners = [];
      this.quads = [];
      this.most = this.least = null;
      for (const strip of strips) {
        const first = this.corners.length;
        strip.at.forEach(([r, z], row) => {
          for (let k = 0; k < round; k++) {
            const piece = k % (2 * half);
            const mirrored = piece > half;
            const [ur, ut, uz] = strip[this.state][row][mirrored ? 2 * half - piece : piece];
            const turn = (k / half) * (Math.PI / jaws);
            const out = r + ur * this.factor;
            const aside = (mirrored ? -ut : ut) * this.factor;
            const s = Math.sin(turn), c = Math.cos(turn);
            const corner = { x: out * s + aside * c, y: out * c - aside * s, z: z + uz * this.factor, value: ur };
            this.corners.push(corner);
            if (!this.most || ur > this.most.value) this.most = corner;
            if (!this.least || ur < this.least.value) this.least = corner;
          }
        });
        for (let row = 0; row + 1 < strip.at.length; row++) {
          for (let k = 0; k < round; k++) {
            const next = (k + 1) % round, a = first + row * round, b = a + round;
            this.quads.push([a + k, a + next, b + next, b + k]);
          }
        }
      }
      const tall = strips.flatMap((one) => one.at.map(([, z]) => z));
      this.middle = (Math.min(...tall) + Math.max(...tall)) / 2;
      this.size = Math.max(Math.hypot(Math.max(...strips.flatMap((one) => one.at.map(([r]) => r))),
        (Math.max(...tall) - Math.min(...tall)) / 2), 1e-3);
      this.later();
    },
    later() {
      if (this.waiting) return;
      this.waiting = requestAnimationFrame(() => { this.waiting = 0; this.draw(); });
    },
    // Spindle axis along the page's right at first, tailstock to the right and towards the eye.
    view(x, y, z) {
      const along = z - this.middle;
      const cy = Math.cos(this.yaw), sy = Math.sin(this.yaw), cp = Math.cos(this.pitch), sp = Math.sin(this.pitch);
      const right = along * cy + x * sy;
      const back = -along * sy + x * cy;
      const up = y * cp - back * sp;
      return [this.mid[0] + right * this.scale, this.mid[1] - up * this.scale, back * cp + y * sp];
    },
    draw() {
      const canvas = this.$refs.canvas;
      if (!canvas || !canvas.clientWidth) return;
      const dots = window.devicePixelRatio || 1, wide = canvas.clientWidth, tall = canvas.clientHeight;
      if (canvas.width !== Math.round(wide * dots) || canvas.height !== Math.round(tall * dots)) {
        canvas.width = Math.round(wide * dots);
        canvas.height = Math.round(tall * dots);
      }
      canvas.setAttribute("aria-label", this.label);
      const pen = canvas.getContext("2d");
      pen.setTransform(dots, 0, 0, dots, 0, 0);
      pen.fillStyle = "#fff";
      pen.fillRect(0, 0, wide, tall);
      this.mid = [wide / 2, tall / 2];
      this.scale = (0.36 * Math.min(wide, tall) / this.size) * this.zoom;
      const seen = this.corners.map((one) => this.view(one.x, one.y, one.z));
      const low = this.least.value, span = this.most.value - low;
      const things = this.quads.map((quad) => this.surface(quad, seen, low, span));
      things.push(...this.jawLines());
      things.sort((a, b) => b.depth - a.depth);
      for (const thing of things) this.paint(pen, thing);
      this.axis(pen);
      this.jawNumbers(pen);
      if (span > 0) {
        this.mark(pen, this.most, this.mesh.words[this.state].most, -1);
        this.mark(pen, this.least, this.mesh.words[this.state].least, 1);
      }
    },
    surface(quad, seen, low, span) {
      const [a, b, c, d] = quad.map((i) => seen[i]);
      const value = quad.reduce((sum, i) => sum + this.corners[i].value, 0) / 4;
      const u = [c[0] - a[0], c[1] - a[1], (c[2] - a[2]) * this.scale], v = [d[0] - b[0], d[1] - b[1], (d[2] - b[2]) * this.scale];
      const n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
      const shine = Math.abs(n[0] * LIGHT[0] - n[1] * LIGHT[1] + n[2] * LIGHT[2]) / (Math.hypot(...n) || 1);
      const shade = 0.78 + 0.22 * shine;
      const place = span > 0 ? ((value - low) / span) * (this.colours.length - 1) : 0;
      const from = Math.min(Math.floor(place), this.colours.length - 2), share = place - from;
      const mix = [0, 1, 2].map((i) =>
        Math.round(shade * (this.colours[from][i] * (1 - share) + this.colours[from + 1][i] * share)));
      return { loop: [a, b, c, d], depth: (a[2] + b[2] + c[2] + d[2]) / 4, fill: `rgb(${mix})` };
    },
    jawLines() {
      const { outline, z, jaws } = this.mesh.jaw;
      const found = [];
      for (let k = 0; k < jaws; k++) {
        const turn = (2 * Math.PI * k) / jaws, s = Math.sin(turn), c = Math.cos(turn);
        const at = outline.map(([across, out]) => [out * s + across * c, out * c - across * s]);
        const line = (p, q) => {
          for (let i = 0; i < 6; i++) { // in pieces, so that each hides where it should
            const part = (share) => this.view(...p.map((one, j) => one + share * (q[j] - one)));
            const a = part(i / 6), b = part((i + 1) / 6);
            found.push({ line: [a, b], depth: (a[2] + b[2]) / 2 - 0.02 * this.size });
          }
        };
        at.forEach(([x, y], i) => {
          const [x1, y1] = at[(i + 1) % at.length];
          line([x, y, z[0]], [x1, y1, z[0]]);
          line([x, y, z[1]], [x1, y1, z[1]]);
          if (this.mesh.jaw.edges.includes(i)) line([x, y, z[0]], [x, y, z[1]]);
        });
      }
      return found;
    },
    paint(pen, thing) {
      pen.beginPath();
      (thing.loop || thing.line).forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (thing.loop) {
        pen.closePath();
        pen.fillStyle = pen.strokeStyle = thing.fill;
        pen.lineWidth = 0.7; // closes the seams between quads
        pen.fill();
      } else {
        pen.strokeStyle = this.state === "clamped" ? "#1d1b18" : "#b4ad9c";
        pen.lineWidth = 1;
      }
      pen.stroke();
    },
    axis(pen) {
      const ends = [-1.25, 1.25].map((share) => this.view(0, 0, this.middle + share * this.size));
      pen.save();
      pen.setLineDash([18, 4, 3, 4]);
      pen.strokeStyle = "#1d1b18";
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(ends[0][0], ends[0][1]);
      pen.lineTo(ends[1][0], ends[1][1]);
      pen.stroke();
      pen.restore();
    },
    jawNumbers(pen) {
      const { jaws, number } = this.mesh.jaw;
      for (let k = 0; k < jaws; k++) {
        const turn = (2 * Math.PI * k) / jaws;
        const [x, y] = this.view(number[0] * Math.sin(turn), number[0] * Math.cos(turn), number[1]);
        pen.beginPath();
        pen.arc(x, y, 12, 0, 2 * Math.PI);
        pen.fillStyle = "#fff";
        pen.fill();
        pen.strokeStyle = "#1d1b18";
        pen.lineWidth = 1.2;
        pen.stroke();
        this.say(pen, String(k + 1), x, y, "center", 15);
      }
    },
    mark(pen, corner, words, way) {
      const [x, y] = this.view(corner.x, corner.y, corner.z);
      const canvas = this.$refs.canvas;
      const level = way < 0 ? 20 : canvas.clientHeight - 20;
      pen.strokeStyle = "#1d1b18";
      pen.lineWidth = 1.2;
      pen.beginPath();
      pen.moveTo(x, y);
      pen.lineTo(Math.min(200, x), level - way * 12);
      pen.stroke();
      pen.beginPath();
      pen.arc(x, y, 4, 0, 2 * Math.PI);
      pen.fillStyle = "#fff";
      pen.fill();
      pen.stroke();
      pen.fillStyle = "#fff";
      pen.font = '700 16px "DejaVu Sans", "Segoe UI", Arial, sans-serif';
      pen.fillRect(6, level - 12, pen.measureText(words).width + 8, 24);
      this.say(pen, words, 10, level, "left", 16);
    },
    say(pen, words, x, y, align, size) {
      pen.font = `700 ${size}px "DejaVu Sans", "Segoe UI", Arial, sans-serif`;
      pen.fillStyle = "#1d1b18";
      pen.textAlign = align;
      pen.textBaseline = "middle";
      pen.fillText(words, x, y);
    },
    turn(yaw, pitch) {
      this.yaw += yaw;
      this.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, this.pitch + pitch));
      this.later();
    },
    // One step by a button or an arrow key.
    step(right, up) { this.turn(right * STEP, up * STEP); },
    nearer(times) {
      this.zoom = Math.max(0.4, Math.min(8, this.zoom * times));
      this.later();
    },
    again() {
      Object.assign(this, FIRST);
      this.later();
    },
    down(event) {
      this.$refs.canvas.setPointerCapture(event.pointerId);
      this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    },
    move(event) {
      const before = this.fingers.get(event.pointerId);
      if (!before) return;
      const now = [event.clientX, event.clientY];
      if (this.fingers.size === 2) {
        const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
        const apart = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]) || 1;
        this.nearer(apart(now) / apart(before));
      } else {
        this.turn((now[0] - before[0]) / 120, (now[1] - before[1]) / 120);
      }
      this.fingers.set(event.pointerId, now);
    },
    up(event) { this.fingers.delete(event.pointerId); },
    key(event) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) this.step(...way);
      else if (event.key === "+" || event.key === "=") this.nearer(1.2);
      else if (event.key === "-") this.nearer(1 / 1.2);
      else if (event.key === "Home") this.again();
      else return;
      event.preventDefault();
    },
    wheel(event) {
      if (!event.ctrlKey) return; // an ordinary wheel scrolls the page
      event.preventDefault();
      this.nearer(event.deltaY < 0 ? 1.1 : 1 / 1.1);
    },
  },
};
