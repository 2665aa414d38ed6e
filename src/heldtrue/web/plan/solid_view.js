// The part in its jaws in three dimensions, through the three.js that the page library brings. It shows what it is
// given (mm): x and y across, y up through jaw 1, z along the spindle. Every word and every choice comes from the server.
const STEP = Math.PI / 24;
const FROM = [-0.62, 0.45, 0.64]; // the eye at first, seen from the middle: the tailstock to the right and nearer
const OUT = 3; // how far off the eye stands, in sizes of the part; the view is parallel, so that this enlarges nothing

export default {
  template: `<div class="solid" tabindex="0" role="img" @keydown="key" @wheel.capture="wheel">
    <canvas ref="canvas" aria-hidden="true"></canvas><div ref="words" class="solid-words" aria-hidden="true"></div></div>`,
  props: { mesh: Object, first: String, enlarged: Number, colours: Array },
  async mounted() {
    Object.assign(this, { state: this.first, factor: this.enlarged });
    try {
      if (!document.createElement("canvas").getContext("webgl2")) throw new Error("no WebGL");
      this.lib = await import("nicegui-scene");
      if (this.gone) return;
      this.begin(this.lib);
    } catch {
      this.$emit("without");
    }
  },
  unmounted() {
    this.gone = true;
    this.watcher?.disconnect();
    this.theme?.disconnect();
    this.renderer?.dispose();
    this.renderer?.forceContextLoss(); // a browser keeps few of them
  },
  methods: {
    begin({ THREE, OrbitControls, CSS2DRenderer }) {
      const { canvas, words } = this.$refs;
      this.renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, canvas });
      canvas.addEventListener("webglcontextlost", () => this.gone || this.$emit("without"));
      this.writer = new CSS2DRenderer({ element: words });
      const tall = this.mesh.strips.flatMap((one) => one.at.map(([, z]) => z));
      const wide = Math.max(...this.mesh.strips.flatMap((one) => one.at.map(([r]) => r)));
      this.middle = new THREE.Vector3(0, 0, (Math.min(...tall) + Math.max(...tall)) / 2);
      this.size = Math.max(Math.hypot(wide, (Math.max(...tall) - Math.min(...tall)) / 2), 1e-3);
      this.camera = new THREE.OrthographicCamera(-1, 1, 1, -1, 0, 2 * OUT * this.size);
      const light = new THREE.DirectionalLight(0xffffff, 0.45 * Math.PI);
      light.position.set(this.size, 2 * this.size, 0);
      this.camera.add(light);
      this.scene = new THREE.Scene();
      this.scene.add(this.camera, new THREE.AmbientLight(0xffffff, 0.65 * Math.PI));
      this.controls = new OrbitControls(this.camera, canvas);
      Object.assign(this.controls, { enablePan: false, minZoom: 0.4, maxZoom: 8 });
      this.controls.addEventListener("change", () => this.later());
      this.watcher = new ResizeObserver(() => this.later());
      this.watcher.observe(this.$el);
      this.theme = new MutationObserver(() => this.build());
      this.theme.observe(document.documentElement, { attributeFilter: ["data-theme"] });
      this.again();
      this.build();
    },
    // Another state or enlargement: the mesh is here already.
    show(state, factor, label) {
      Object.assign(this, { state, factor });
      this.$el.setAttribute("aria-label", label);
      if (this.scene) this.build();
    },
    build() {
      const { THREE } = this.lib;
      this.shown?.traverse((one) => (one.geometry?.dispose(), one.material?.dispose(), one.element?.remove()));
      this.shown?.removeFromParent();
      this.ink = getComputedStyle(this.$el).color;
      this.shown = new THREE.Group();
      const places = this.mesh.strips.map((strip) => this.places(strip));
      const all = places.flat();
      const most = all.reduce((a, b) => Math.max(a, b.value), -Infinity);
      const least = all.reduce((a, b) => Math.min(a, b.value), Infinity);
      const skin = new THREE.MeshLambertMaterial({ vertexColors: true, side: THREE.DoubleSide });
      for (const one of places) this.shown.add(new THREE.Mesh(this.skin(one, least, most - least), skin));
      this.jaws();
      this.axis();
      // Most and least come back at every jaw: each is written where it is nearest to the eye.
      this.marks = (most > least ? [[most, "most"], [least, "least"]] : []).map(([value, name]) => {
        const made = this.word([0, 0, 0], this.mesh.words[this.state][name], "mark");
        return [made, all.filter((one) => one.value === value).map((one) => new THREE.Vector3(...one.at))];
      });
      this.scene.add(this.shown);
      this.later();
    },
    // From displacements of half a jaw pitch to points all round one strip: where each is, and how far it moved out.
    places(strip) {
      const { angle, jaws } = this.mesh, half = angle.length - 1;
      return strip.at.flatMap(([r, z], row) => Array.from({ length: 2 * jaws * half }, (_, k) => {
        const piece = k % (2 * half), mirrored = piece > half;
        const [ur, ut, uz] = strip[this.state][row][mirrored ? 2 * half - piece : piece];
        const turn = (k / half) * (Math.PI / jaws), s = Math.sin(turn), c = Math.cos(turn);
        const out = r + ur * this.factor, aside = (mirrored ? -ut : ut) * this.factor;
        return { at: [out * s + aside * c, out * c - aside * s, z + uz * this.factor], value: ur };
      }));
    },
    skin(places, low, span) {
      const { THREE } = this.lib, round = 2 * this.mesh.jaws * (this.mesh.angle.length - 1), index = [];
      for (let a = 0; a + round < places.length; a += round) {
        for (let k = 0; k < round; k++) {
          const next = (k + 1) % round;
          index.push(a + k, a + next, a + round + k, a + next, a + round + next, a + round + k);
        }
      }
      const made = new THREE.BufferGeometry();
      made.setIndex(index);
      made.setAttribute("position", new THREE.Float32BufferAttribute(places.flatMap((one) => one.at), 3));
      made.setAttribute("color", new THREE.Float32BufferAttribute(
        places.flatMap((one) => this.colour(span > 0 ? (one.value - low) / span : 0)), 3));
      made.computeVertexNormals();
      return made;
    },
    colour(share) {
      const place = share * (this.colours.length - 1), from = Math.min(Math.floor(place), this.colours.length - 2);
      const mix = [0, 1, 2].map((i) =>
        (this.colours[from][i] * (1 - place + from) + this.colours[from + 1][i] * (place - from)) / 255);
      return new this.lib.THREE.Color().setRGB(...mix, "srgb").toArray();
    },
    // Clear as glass, with their edges: they must not hide what they grip. Fainter where they have let go.
    jaws() {
      const { THREE } = this.lib, { outline, z, jaws, number } = this.mesh.jaw, held = this.state === "clamped";
      const body = new THREE.ExtrudeGeometry(new THREE.Shape(outline.map(([x, y]) => new THREE.Vector2(x, y))),
        { depth: z[1] - z[0], bevelEnabled: false });
      const edges = new THREE.EdgesGeometry(body, 20);
      const glass = new THREE.MeshBasicMaterial(
        { color: this.ink, transparent: true, opacity: held ? 0.12 : 0.04, depthWrite: false, side: THREE.DoubleSide });
      const line = new THREE.LineBasicMaterial({ color: this.ink, transparent: true, opacity: held ? 1 : 0.35 });
      for (let k = 0; k < jaws; k++) {
        const turn = (2 * Math.PI * k) / jaws, one = new THREE.Group();
        one.add(new THREE.Mesh(body, glass), new THREE.LineSegments(edges, line));
        one.rotation.z = -turn;
        one.position.z = z[0];
        this.shown.add(one);
        this.word([number[0] * Math.sin(turn), number[0] * Math.cos(turn), number[1]], String(k + 1), "number");
      }
    },
    // A chain line, as on a drawing.
    axis() {
      const { THREE } = this.lib, ends = [], pitch = this.size / 8;
      for (let at = -1.25 * this.size; at < 1.25 * this.size; at += pitch) {
        for (const share of [0, 0.64, 0.77, 0.87]) ends.push(new THREE.Vector3(0, 0, this.middle.z + at + share * pitch));
      }
      this.shown.add(new THREE.LineSegments(new THREE.BufferGeometry().setFromPoints(ends),
        new THREE.LineBasicMaterial({ color: this.ink })));
    },
    word(at, words, kind) {
      const element = document.createElement("div");
      element.className = "solid-word";
      element.append(Object.assign(document.createElement("span"), { className: kind, textContent: words }));
      const made = new this.lib.CSS2DObject(element);
      made.position.set(...at);
      this.shown.add(made);
      return made;
    },
    later() {
      if (!this.waiting) this.waiting = requestAnimationFrame(() => { this.waiting = 0; this.draw(); });
    },
    draw() {
      const wide = this.$el.clientWidth, tall = this.$el.clientHeight;
      if (this.gone || !wide) return;
      const half = (this.size * Math.min(1, wide / tall)) / 0.72, { camera } = this;
      Object.assign(camera, { left: -half * wide / tall, right: half * wide / tall, top: half, bottom: -half });
      camera.updateProjectionMatrix();
      this.place();
      this.renderer.setPixelRatio(window.devicePixelRatio || 1);
      this.renderer.setSize(wide, tall);
      this.writer.setSize(wide, tall);
      this.renderer.render(this.scene, camera);
      this.writer.render(this.scene, camera);
      this.$el.dataset.drawn = this.state;
    },
    // The figures at their places, the higher one above its place and the lower one below: they must not hide each other.
    place() {
      const eye = this.camera.position.clone().sub(this.middle), high = [];
      for (const [made, places] of this.marks) {
        made.position.copy(places.reduce((a, b) => (b.dot(eye) > a.dot(eye) ? b : a)));
        high.push(made.position.clone().project(this.camera).y);
      }
      this.marks.forEach(([made], i) => { made.element.className = `solid-word ${high[i] < Math.max(...high) ? "below" : "above"}`; });
    },
    // One step by a button or an arrow key.
    step(right, up) {
      if (!this.controls) return;
      const { Spherical, Vector3 } = this.lib.THREE;
      const eye = new Spherical().setFromVector3(new Vector3().subVectors(this.camera.position, this.middle));
      eye.theta -= right * STEP;
      eye.phi += up * STEP;
      this.look(new Vector3().setFromSpherical(eye.makeSafe()), this.camera.zoom);
    },
    nearer(times) {
      if (this.controls) this.look(this.camera.position.clone().sub(this.middle), this.camera.zoom * times);
    },
    again() {
      if (this.controls) this.look(new this.lib.THREE.Vector3(...FROM).setLength(OUT * this.size), 1);
    },
    look(from, zoom) {
      this.camera.position.copy(this.middle).add(from);
      this.camera.zoom = Math.max(this.controls.minZoom, Math.min(this.controls.maxZoom, zoom));
      this.controls.target.copy(this.middle);
      this.controls.update();
      this.later();
    },
    key(event) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (way) this.step(...way);
      else if (event.key === "+" || event.key === "=") this.nearer(1.2);
      else if (event.key === "-") this.nearer(1 / 1.2);
      else if (event.key === "Home") this.again();
      else return;
      event.preventDefault();
    },
    wheel(event) {
      if (!event.ctrlKey) event.stopPropagation(); // an ordinary wheel scrolls the page
    },
  },
};
